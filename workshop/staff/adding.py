"""Adding staff, giving them a new password, and letting them in or not."""

from __future__ import annotations

from collections.abc import Iterable

from axes.utils import reset as forget_failed_tries
from django.core.exceptions import ValidationError
from django.db import transaction

from workshop.staff.models import Shop, User
from workshop.staff.open_sessions import end_sessions
from workshop.staff.quick_codes import forget_code
from workshop.staff.random_words import make_password
from workshop.staff.roles import Right, sets_with, together
from workshop.staff.second_factor import take_off


class StaffProblem(ValueError):
    """That this cannot be done to a member of staff, and why."""


@transaction.atomic
def add_staff(
    *, shop: Shop, by: User | None, username: str, first_name: str, last_name: str, roles: Iterable[str]
) -> tuple[User, str]:
    """Add a member of staff; returns them and their first password, which they must change.

    Raises:
        ValidationError: beside the field: a sign-in name that is taken or no name, no role, a role there is not.
    """
    password = make_password()
    member = User(
        shop=shop, username=username, first_name=first_name, last_name=last_name, roles=together(roles),
        must_change_password=True,
    )  # fmt: skip
    member.set_password(password)
    hold_staff(member)
    judge_member(member)
    member.save()
    return member, password


def judge_member(member: User) -> None:
    """Before it is saved; of names that differ in capitals alone, nobody can tell whose sign-in it is."""
    if User.objects.filter(username__iexact=member.username).exclude(pk=member.pk).exists():
        raise ValidationError({"username": "Someone already signs in by that name. Choose another."})
    if not member.roles:
        raise ValidationError({"roles": "Choose one role at least."})
    member.full_clean()


def hold_staff(member: User) -> None:
    """Of two who change the staff of a shop at once, the second waits, and sees what the first left."""
    if member.shop_id is not None:
        Shop.objects.select_for_update().only("pk").get(pk=member.shop_id)


def is_last_owner(member: User) -> bool:
    """Whether nobody else who can sign in runs the shop."""
    owners = User.objects.filter(shop=member.shop_id, roles__in=sets_with(Right.RUN_THE_SHOP), is_active=True)
    return not owners.exclude(pk=member.pk).exists()


@transaction.atomic
def set_new_password(*, member: User) -> str:
    """Give a member of staff a new first password and return it; their open sessions end with the old one."""
    password = make_password()
    forget_code(user=member)  # whoever lost the password may have lost that too
    member.set_password(password)
    member.must_change_password = True
    member.save(update_fields=["password", "must_change_password"])
    end_sessions(member)
    forget_failed_tries(username=member.username)  # whoever was locked out need not wait as well
    return password


@transaction.atomic
def let_in(*, member: User) -> str:
    """Open the door for somebody who has lost password or phone; returns their new first password."""
    take_off(user=member)
    forget_failed_tries()  # also those that make an address wait
    member.is_active = True
    member.save(update_fields=["is_active"])
    return set_new_password(member=member)


def let_set_prices(*, member: User, allowed: bool) -> None:
    """Let a member of staff set what parts cost and are sold at, or no longer; an owner always may."""
    member.sets_prices = allowed
    member.save(update_fields=["sets_prices"])


@transaction.atomic
def set_active(*, member: User, active: bool, by: User) -> None:
    """Let a member of staff sign in, or no longer. A shop keeps at least one owner who can.

    Raises:
        StaffProblem: the last owner, or oneself.
    """
    hold_staff(member)
    if not active and member.pk == by.pk:
        raise StaffProblem("You cannot shut yourself out. Let another owner do it.")
    if not active and member.is_owner and is_last_owner(member):
        raise StaffProblem(f"{member} is the only owner who can sign in.")
    if not active:
        forget_code(user=member)
        end_sessions(member)
    member.is_active = active
    member.save(update_fields=["is_active"])
