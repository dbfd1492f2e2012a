"""Adding staff, giving them a new password, and letting them in or not."""

from __future__ import annotations

import secrets

from django.db import transaction

from workshop.staff.models import Shop, User

# Without letters and digits that are mistaken for each other on a slip of paper.
_ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"


class StaffProblem(ValueError):
    """That this cannot be done to a member of staff, and why."""


def make_password() -> str:
    """A first password: four groups of four, easy to read out."""
    return "-".join("".join(secrets.choice(_ALPHABET) for _ in range(4)) for _ in range(4))


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
    return password


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
