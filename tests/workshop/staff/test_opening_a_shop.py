"""A new shop gets an owner who can sign in once, and then chooses a password."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command

from tests.factories import UserFactory
from workshop.models import Shop, User
from workshop.staff.opening import open_shop

pytestmark = pytest.mark.django_db


def test_the_owner_can_sign_in_and_must_choose_a_password() -> None:
    owner, password = open_shop(name="Mill Yard Suspension", owner="odile", time_zone="Europe/Dublin")
    assert owner.is_owner
    assert owner.must_change_password
    assert owner.check_password(password)
    assert owner.shop is not None
    assert (owner.shop.name, owner.shop.time_zone) == ("Mill Yard Suspension", "Europe/Dublin")


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"name": ""}, "cannot be blank"),
        ({"owner": ""}, "cannot be blank"),
        ({"owner": "taken"}, "Someone already signs in by that name"),
        ({"time_zone": "Europe/Atlantis"}, "is not a time zone"),
    ],
)
def test_what_will_not_do_is_refused_and_nothing_is_left(change: dict[str, str], complaint: str) -> None:
    UserFactory(username="taken")
    with pytest.raises(ValidationError, match=complaint):
        open_shop(**({"name": "Mill Yard Suspension", "owner": "odile"} | change))
    assert Shop.objects.count() == 1  # that of the name already taken


def test_the_command_says_the_first_password() -> None:
    out = StringIO()
    call_command("open_shop", name="Mill Yard Suspension", owner="odile", stdout=out)
    password = out.getvalue().split("password ")[1].split(" ")[0]
    assert User.objects.get(username="odile").check_password(password)


def test_the_command_passes_a_refusal_on() -> None:
    with pytest.raises(CommandError, match="is not a time zone"):
        call_command("open_shop", name="Mill Yard Suspension", owner="odile", time_zone="Mars")
