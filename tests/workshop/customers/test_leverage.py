"""The leverage of a bike's rear shock: typed at the counter with where it is from, kept with who and when."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories import BikeFactory, ShopFactory, UserFactory
from tests.squeezed import squeezed
from workshop.customers.adding import add_bike
from workshop.customers.editing import edit_bike
from workshop.models import Bike, User

pytestmark = pytest.mark.django_db


@pytest.fixture
def clerk() -> User:
    return UserFactory.create(shop=ShopFactory.create(), first_name="Ylva", last_name="Stenmark")


@pytest.fixture
def bike(clerk: User) -> Bike:
    return BikeFactory.create(customer__shop=clerk.shop, description="Blue trail bike")


@pytest.fixture
def counter(client: Client, clerk: User) -> Client:
    client.force_login(clerk)
    return client


def sent(counter: Client, bike: Bike, leverage: str, source: str) -> tuple[int, str]:
    bike.refresh_from_db()
    answer = counter.post(
        reverse("counter:change_bike", args=[bike.pk]),
        {
            "seen_version": bike.version, "description": bike.description, "frame_number": "DEMO-1", "notes": "",
            "leverage": leverage, "leverage_source": source,
        },
    )  # fmt: skip
    return answer.status_code, squeezed(answer.content.decode())


def page_of(counter: Client, bike: Bike) -> str:
    return squeezed(counter.get(reverse("counter:bike", args=[bike.pk])).text)


def test_two_travels_are_kept_as_a_ratio_with_source_and_who(counter: Client, bike: Bike) -> None:
    assert "<dt>Leverage of the rear shock</dt><dd>not on record</dd>" in page_of(counter, bike)
    assert sent(counter, bike, "150/60", "measured")[0] == 302
    shown = page_of(counter, bike)
    assert "2.50: wheel travel and stroke, measured on this bike, noted" in shown
    assert "by Ylva Stenmark" in shown
    assert 'value="2.5"' in squeezed(counter.get(reverse("counter:change_bike", args=[bike.pk])).text)
    assert sent(counter, bike, "", "")[0] == 302
    bike.refresh_from_db()
    assert (bike.leverage, bike.leverage_source, bike.leverage_by, bike.leverage_at) == (None, "", None, None)


@pytest.mark.parametrize(
    ("leverage", "source", "says"),
    [
        ("0.4", "maker", "Is it the other way round, stroke by wheel travel? Then the leverage is 2.50."),
        ("60/150", "maker", "Is it the other way round, stroke by wheel travel? Then the leverage is 2.50."),
        ("25", "maker", "Was the decimal point lost? Then it is 2.50."),
        ("150", "maker", "Is it the wheel’s travel? Enter wheel travel / stroke, such as 150/60."),
        ("5", "maker", "bicycles lie between 1 and 4.5."),
        ("quite a lot", "maker", "Enter a ratio such as 2.5, or wheel travel / stroke such as 150/60."),
        ("2.500", "maker", "could be"),
        ("2.5", "", "Say where the leverage is from."),
        ("", "maker", "Enter the leverage, or leave out where it is from."),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_stays_typed(
    counter: Client, bike: Bike, leverage: str, source: str, says: str
) -> None:
    status, page = sent(counter, bike, leverage, source)
    assert status == 422
    assert says in page
    assert "field__error" in page
    assert f'value="{leverage}"' in page or not leverage
    bike.refresh_from_db()
    assert bike.leverage is None


def test_who_noted_it_stays_while_it_stays(bike: Bike, clerk: User) -> None:
    other = UserFactory.create(shop=clerk.shop)
    as_was = {"description": bike.description, "frame_number": "", "notes": "Bell"}
    edit_bike(bike=bike, seen_version=bike.version, by=clerk, leverage=2.5, leverage_source="maker", **as_was)
    noted_at = bike.leverage_at
    edit_bike(bike=bike, seen_version=bike.version, by=other, leverage=2.5, leverage_source="maker", **as_was)
    assert (bike.leverage_by, bike.leverage_at) == (clerk, noted_at)
    edit_bike(bike=bike, seen_version=bike.version, by=other, leverage=2.6, leverage_source="maker", **as_was)
    assert bike.leverage_by == other


@pytest.mark.parametrize(
    ("leverage", "source", "field"), [(0.4, "maker", "leverage"), (2.5, "hearsay", "leverage_source")]
)
def test_the_function_refuses_it_too(clerk: User, leverage: float, source: str, field: str) -> None:
    owner = BikeFactory.create(customer__shop=clerk.shop).customer
    with pytest.raises(ValidationError) as refused:
        add_bike(customer=owner, description="Another", by=clerk, leverage=leverage, leverage_source=source)
    assert field in refused.value.message_dict


@pytest.mark.parametrize(
    ("rule", "bad"),
    [
        ("bike_leverage_possible", {"leverage": 0.4, "leverage_source": "maker"}),
        ("bike_leverage_has_a_source", {"leverage": 2.5, "leverage_source": ""}),
        ("bike_leverage_has_a_source", {"leverage": None, "leverage_source": "maker"}),
    ],
)
def test_the_database_holds_it_past_all_functions(bike: Bike, rule: str, bad: dict[str, object]) -> None:
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        Bike.objects.filter(pk=bike.pk).update(**{"leverage_at": timezone.now(), **bad})
