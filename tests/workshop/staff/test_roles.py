"""What a role may do stands in one table; code and templates ask for rights, never for a role."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse

from tests.factories import UserFactory
from workshop.staff.models import User
from workshop.staff.roles import ROLE_SETS, ROLES, Right, Role, areas_of, sets_with, together
from workshop.web.context import AREAS

BASE = Path(settings.BASE_DIR)
# Who is made an owner, and whether one is left, is a question of the role itself.
MAY_NAME_ROLES = {"workshop/staff", "workshop/demo", "workshop/migrations", "workshop/management"}
ASKED_OF_A_ROLE = re.compile(r"\bRole\.(?:COUNTER|MECHANIC|OWNER)\b|\buser\.roles\s*(?:==|!=|in\b)|\bby\.roles\b")
IN_A_TEMPLATE = re.compile(r'"(\w+)" (?:not )?in (?:request\.)?user\.rights')


def templates() -> list[Path]:
    return sorted((BASE / "templates").rglob("*.html"))


def test_every_role_has_its_line() -> None:
    assert set(ROLES) == set(Role) == set(User.Role.values)


@pytest.mark.parametrize("role", Role)
def test_what_a_role_starts_with_is_there(role: str) -> None:
    assert reverse(ROLES[role].first_page)
    assert set(ROLES[role].areas) <= set(AREAS)


def test_every_right_is_somebodys_and_the_owner_lacks_only_a_bench() -> None:
    assert set().union(*(kind.rights for kind in ROLES.values())) == set(Right)
    assert set(Right) - ROLES[Role.OWNER].rights == {Right.HAS_A_BENCH}


def test_a_template_asks_for_rights_there_are() -> None:
    asked = {name for path in templates() for name in IN_A_TEMPLATE.findall(path.read_text())}
    assert asked, "no template asks for a right: the pattern is wrong"
    assert asked <= {str(right) for right in Right}


def test_nothing_asks_for_a_role() -> None:
    files = [path for path in (BASE / "workshop").rglob("*.py") if not _may_name_roles(path)] + templates()
    asking = [str(path.relative_to(BASE)) for path in files if ASKED_OF_A_ROLE.search(path.read_text())]
    assert not asking


def test_a_role_that_is_none_may_nothing() -> None:
    user = UserFactory.build(shop=None, roles="visitor", sets_prices=True)
    assert not any(user.may(right) for right in Right)


@pytest.mark.parametrize("roles", ROLE_SETS)
def test_several_roles_have_the_rights_and_the_rooms_of_each(roles: str) -> None:
    user = UserFactory.build(shop=None, roles=roles)
    assert user.rights == set().union(*(ROLES[role].rights for role in roles.split()))
    assert set(areas_of(roles)) == set().union(*(ROLES[role].areas for role in roles.split()))
    assert len(areas_of(roles)) == len(set(areas_of(roles)))
    assert user.is_owner is ("owner" in roles.split())
    assert user.role_words.split(", ") == [str(Role(role).label) for role in roles.split()]


def test_a_set_of_roles_is_written_in_one_way() -> None:
    assert len(set(ROLE_SETS)) == 2 ** len(Role.values) - 1
    assert together(["owner", "counter", "owner"]) == together(["counter", "owner"]) == "counter owner"
    assert together([]) == ""


@pytest.mark.parametrize("right", Right)
def test_who_has_a_right_is_found_by_the_set(right: Right) -> None:
    having = [roles for roles in ROLE_SETS if UserFactory.build(shop=None, roles=roles).may(right)]
    assert sets_with(right) == having


def _may_name_roles(path: Path) -> bool:
    return any(str(path.relative_to(BASE)).startswith(folder) for folder in MAY_NAME_ROLES)
