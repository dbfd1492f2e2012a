"""Adding staff, giving them a new password, and letting them in or not."""

from __future__ import annotations

from axes.utils import reset as forget_failed_tries
from django.db import transaction

from workshop.staff.models import Shop, User
from workshop.staff.random_words import make_password
from workshop.staff.second_factor import take_off


class StaffProblem(ValueError):
    """That this cannot be done to a member of staff, and why."""


@transaction.atomic
def add_staff(
    *, shop: Shop, by: User | None, username: str, first_name: str, last_name: str, role: str
) -> tuple[User, str]:
    """Add a member of staff; returns them and their first password, which they must change."""
    password = make_password()
    member = User(
        shop=shop, username=username, first_name=first_name, last_name=last_name, role=role, must_change_password=True
    )
    member.set_password(password)
    member.full_clean()
    member.save()
    return member, password


@transaction.atomic
def set_new_password(*, member: User) -> str:
    """Give a member of staff a new first password and return it; their open sessions end with the old one."""
    password = make_password()
    member.set_password(password)
    member.must_change_password = True
    member.save(update_fields=["password", "must_change_password"])
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


@transaction.atomic
def set_active(*, member: User, active: bool, by: User) -> None:
    """Let a member of staff sign in, or no longer. A shop keeps at least one owner who can.

    Raises:
        StaffProblem: the last owner, or oneself.
    """
    if not active and member.pk == by.pk:
        raise StaffProblem("You cannot shut yourself out. Let another owner do it.")
    if not active and member.is_owner:
        others = User.objects.select_for_update().filter(shop=member.shop, role=User.Role.OWNER, is_active=True)
        if not others.exclude(pk=member.pk).exists():
            raise StaffProblem(f"{member} is the only owner who can sign in.")
    member.is_active = active
    member.save(update_fields=["is_active"])
