"""Changing somebody's names, sign-in name and roles."""

from __future__ import annotations

from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.db import transaction

from workshop.staff.adding import hold_staff, is_last_owner, judge_member
from workshop.staff.models import User
from workshop.staff.roles import together
from workshop.web.versions import take_version


@transaction.atomic
def change_staff(
    *, member: User, seen_version: int, username: str, first_name: str, last_name: str, roles: Iterable[str]
) -> User:
    """Change names, sign-in name and roles. Rights are asked anew by each request: open sessions have them at once.

    Raises:
        StaleVersion: somebody changed them after the page was opened.
        ValidationError: as `add_staff`; on `roles` too, when nobody who can sign in would be an owner any more.
    """
    hold_staff(member)
    take_version(member, seen_version)
    member.refresh_from_db()
    was_owner = member.is_owner
    member.username, member.first_name, member.last_name = username, first_name, last_name
    member.roles = together(roles)
    judge_member(member)
    if was_owner and not member.is_owner and is_last_owner(member):
        raise ValidationError({"roles": f"{member} is the only owner who can sign in. Make somebody else one first."})
    member.save(update_fields=["username", "first_name", "last_name", "roles"])
    return member
