"""Finding by whatever a caller can say."""

from __future__ import annotations

import pytest
from pytest_django import DjangoAssertNumQueries

from tests import factories
from workshop.counter.finding import find_models
from workshop.counter.search import find
from workshop.customers.adding import add_bike, add_customer
from workshop.models import Customer, Shop
from workshop.office.specs_pages import models_named
from workshop.suspension.adding import add_unit
from workshop.web.folding import fold

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(db: None) -> Shop:
    return factories.ShopFactory()


@pytest.fixture
def jana(shop: Shop) -> Customer:
    return add_customer(shop=shop, by=None, name="Jana Novák", phone="0555 010 447", email="jana@example.org")


@pytest.mark.parametrize(
    ("text", "matched"),
    [
        ("jana", "name"),
        ("NOVAK", "name"),
        ("nová", "name"),
        ("novák ja", "name"),
        ("0555 010447", "phone"),
        ("0555-010-447", "phone"),
        ("010 44", "phone"),
        ("+44 555 010 447", "phone"),
        ("jana@exa", "email"),
    ],
)
def test_a_customer_is_found(shop: Shop, jana: Customer, text: str, matched: str) -> None:
    hits = find(shop, text).customers
    assert [hit.customer for hit in hits] == [jana]
    assert hits[0].matched in {matched, "name"}


def test_a_phone_number_stored_with_the_country_is_found_without(shop: Shop) -> None:
    kofi = add_customer(shop=shop, by=None, name="Kofi", phone="+44 555 010 448")
    assert [hit.customer for hit in find(shop, "0555 010 448").customers] == [kofi]


@pytest.mark.parametrize("text", ["", "   ", "nobody", "%", "_", "0555 999 999", "\x00", "a" * 5000])
def test_what_is_not_there_is_not_found(shop: Shop, jana: Customer, text: str) -> None:
    assert find(shop, text).count == 0


def test_the_ending_of_a_phone_number_comes_before_what_only_holds_it(shop: Shop, jana: Customer) -> None:
    for n in range(90):  # newer ones, more than are looked at
        add_customer(shop=shop, by=None, name=f"Aba {n:02}", phone=f"0447 66{n:02}")
    found = find(shop, "447")
    assert found.customers[0].customer == jana
    assert "customers" in found.more


@pytest.mark.parametrize("text", ["447", "0 447", "10447", "010-447"])
def test_what_is_in_the_shop_is_found_by_the_ending_of_the_customers_phone(
    shop: Shop, jana: Customer, text: str
) -> None:
    ready = factories.TicketFactory(shop=shop, customer=jana, number=99_001, state="ready")
    factories.TicketFactory(shop=shop, customer=jana, number=99_002, state="handed_back")
    first = find(shop, text).tickets[0]
    assert (first.ticket, first.matched) == (ready, "phone")


def test_a_ticket_number_goes_before_the_ending_of_a_phone(shop: Shop, jana: Customer) -> None:
    plume = factories.SuspensionModelFactory(name="Plume")
    fork = {"unit__model": plume, "unit__serial": "A"}  # without a number that would be found too
    of_jana = factories.TicketFactory(shop=shop, customer=jana, number=99_001, state="ready", **fork)
    for number, serial in ((447, "B"), (4471, "C")):
        nobody = {"customer__phone": "", "customer__email": "", "customer__name": "Nobody Else"}
        factories.TicketFactory(shop=shop, number=number, **nobody, **fork | {"unit__serial": serial})
    assert [hit.ticket.number for hit in find(shop, "447").tickets] == [447, of_jana.number, 4471]


def test_what_is_in_the_shop_is_told_of_once_whatever_found_it(shop: Shop, jana: Customer) -> None:
    unit = add_unit(customer=jana, described_as="Novák special", serial="")
    inside = factories.TicketFactory(shop=shop, customer=jana, unit=unit, state="ready", number=99_001)
    factories.TicketFactory(shop=shop, customer=jana, state="handed_back", number=99_002)
    assert find(shop, "novak").inside == [inside.number]
    assert find(shop, "nobody").inside == []


def test_a_unit_is_found_by_its_serial_however_punctuated(shop: Shop, jana: Customer) -> None:
    unit = add_unit(customer=jana, described_as="Kestrigan Plume", serial="KP-00 12/9")
    for text in ("KP-00 12/9", "kp00129", "00129", "plume"):
        assert [hit.unit for hit in find(shop, text).units] == [unit], text
    assert find(shop, "kp-0012").units[0].matched == "serial"


def test_a_bike_is_found_by_description_and_frame_number(shop: Shop, jana: Customer) -> None:
    bike = add_bike(customer=jana, description="Green hardtail", frame_number="FR-881")
    assert find(shop, "hardtail").bikes[0].bike == bike
    assert find(shop, "fr-881").bikes[0].matched == "frame number"


@pytest.mark.parametrize("text", ["1047", "#1047", "Ticket 1047"])
def test_a_ticket_is_found_by_its_number(shop: Shop, text: str) -> None:
    ticket = factories.TicketFactory(shop=shop, number=1047)
    factories.TicketFactory(shop=shop, number=104)
    hits = find(shop, text).tickets
    assert [(hit.ticket, hit.matched) for hit in hits] == [(ticket, "ticket number")]


def test_is_it_ready_is_answered_by_name_and_fork(shop: Shop, jana: Customer) -> None:
    unit = add_unit(customer=jana, described_as="Kestrigan Plume")
    done = factories.TicketFactory(shop=shop, customer=jana, unit=unit, number=1, state="handed_back")
    ready = factories.TicketFactory(shop=shop, customer=jana, unit=unit, number=2, state="ready")
    results = find(shop, "novak plume")
    assert [hit.ticket for hit in results.tickets] == [ready, done]


def test_a_hit_speaks_of_what_is_in_the_shop_else_of_the_last_ticket(shop: Shop, jana: Customer) -> None:
    unit = add_unit(customer=jana, described_as="Kestrigan Plume")
    factories.TicketFactory(shop=shop, customer=jana, unit=unit, number=1, state="handed_back")
    last = factories.TicketFactory(shop=shop, customer=jana, unit=unit, number=2, state="handed_back")
    assert find(shop, "jana").customers[0].tickets == [last]
    inside = factories.TicketFactory(
        shop=shop, customer=jana, unit=unit, number=3, state="waiting", waiting_for="parts"
    )
    assert find(shop, "jana").customers[0].tickets == [inside]
    assert find(shop, "plume").units[0].tickets == [inside]


def test_nothing_of_another_shop_is_found(shop: Shop, jana: Customer) -> None:
    other = factories.TicketFactory(number=7, customer__name="Jana Novák")
    factories.BikeFactory(customer=other.customer, description="Janadu")
    assert [hit.customer for hit in find(shop, "jana").customers] == [jana]
    assert find(shop, "7").tickets == []
    assert find(shop, "janadu").bikes == []


def test_the_lists_are_short_and_say_so(shop: Shop) -> None:
    for n in range(12):
        add_customer(shop=shop, by=None, name=f"Novák {n:02}")
    results = find(shop, "novak", limit=5)
    assert len(results.customers) == 5
    assert "customers" in results.more


def test_names_that_begin_with_it_come_first(shop: Shop) -> None:
    add_customer(shop=shop, by=None, name="Anna Marek")
    first = add_customer(shop=shop, by=None, name="Marek Anders")
    assert find(shop, "marek").customers[0].customer == first


def test_names_that_only_hold_it_follow_by_name_and_nobody_is_there_twice(shop: Shop) -> None:
    for name in ("Anna Marek", "Marek Zeman", "Zora Marek", "Marek Anders", "Bea Marek"):
        add_customer(shop=shop, by=None, name=name)
    names = ["Marek Anders", "Marek Zeman", "Anna Marek", "Bea Marek", "Zora Marek"]
    assert [hit.customer.name for hit in find(shop, "marek").customers] == names
    assert [hit.customer.name for hit in find(shop, "marek", limit=3).customers] == names[:3]


def test_each_hit_speaks_of_its_own_tickets_only(shop: Shop, jana: Customer) -> None:
    unit = add_unit(customer=jana, described_as="Kestrigan Jana")
    bike = add_bike(customer=jana, description="Jana special")
    on_bike = factories.TicketFactory(shop=shop, customer=jana, bike=bike, number=1, state="handed_back")
    of_unit = factories.TicketFactory(shop=shop, customer=jana, unit=unit, bike=None, number=2, state="handed_back")
    results = find(shop, "jana")
    assert results.customers[0].tickets == [of_unit]
    assert [hit.tickets for hit in results.units if hit.unit == unit] == [[of_unit]]
    assert results.bikes[0].tickets == [on_bike]


def test_it_takes_six_queries_however_many_there_are(
    shop: Shop, jana: Customer, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    """The keys of all kinds, a list of each kind, and the tickets to speak of."""
    factories.BikeFactory(customer=jana, description="Novak special")
    factories.TicketFactory.create_batch(3, shop=shop, customer=jana, unit__model=None, unit__search_text="novak")
    find(shop, "novak")  # each process asks once whether the index is there
    with django_assert_num_queries(6):
        find(shop, "novak")
    factories.TicketFactory.create_batch(60, shop=shop, customer__name="Petra Novák")
    with django_assert_num_queries(6):
        find(shop, "novak")


def test_while_a_ticket_number_is_typed_those_that_begin_with_it_are_shown(shop: Shop) -> None:
    plume = factories.SuspensionModelFactory(name="Plume")  # without a number in its name, which would be found too
    for number, serial in zip((104, 1047, 1048, 10471, 9104), "ABCDE", strict=True):  # nor any in their serials
        factories.TicketFactory(
            shop=shop, number=number, unit__model=plume, unit__serial=serial, customer__phone="", customer__email=""
        )
    hits = find(shop, "104").tickets
    assert [hit.ticket.number for hit in hits] == [104, 10471, 1048, 1047]
    assert [hit.matched for hit in hits[:2]] == ["ticket number", "start of the number"]
    assert find(shop, "104").is_one_ticket
    assert not find(shop, "10").is_one_ticket


@pytest.mark.parametrize("text", ["j", "ja", "no", "05", "ja no"])
def test_one_or_two_characters_find_where_a_word_begins(shop: Shop, jana: Customer, text: str) -> None:
    assert [hit.customer for hit in find(shop, text).customers] == [jana]


@pytest.mark.parametrize("text", ["n", "an", "va", "47"])
def test_one_or_two_characters_within_a_word_find_nothing(shop: Shop, jana: Customer, text: str) -> None:
    assert find(shop, text).customers == []


@pytest.mark.parametrize(("written", "typed"), [
    ("Sørlund", "sorlund"), ("SØRLUND", "sorlund"), ("Łukasz Żółw", "lukasz zolw"), ("Đurić", "duric"),
    ("Weiß", "weiss"), ("Ærø", "aero"), ("Cœur", "coeur"), ("Þorsteins", "thorsteins"), ("Sigurðr", "sigurdr"),
    ("Işık", "isik"), ("O’Brien", "o'brien"),
])  # fmt: skip
def test_letters_that_have_no_plain_part_are_found_either_way(shop: Shop, written: str, typed: str) -> None:
    customer = add_customer(shop=shop, by=None, name=f"Ines {written}")
    unit = add_unit(customer=customer, described_as=f"{written} fork", serial=f"{written[:2]}12345")
    bike = add_bike(customer=customer, description=f"{written}’s hardtail")
    ticket = factories.TicketFactory(shop=shop, customer=customer, unit=unit, search_text=fold("7 it knocks"))
    for text in (typed, written, written.upper(), typed[:4], written.lower()):
        found = find(shop, text)
        assert [hit.customer for hit in found.customers] == [customer], text
        assert found.customers[0].matched == "name"
        assert [hit.unit for hit in found.units] == [unit], text
        assert [hit.bike for hit in found.bikes] == [bike], text
        assert [(hit.ticket, hit.matched) for hit in found.tickets] == [(ticket, "customer")], text


def test_every_letter_of_latin_alphabets_folds_to_plain_ones() -> None:
    """The letters of ISO 8859-1 to 4, 9, 10 and 13 to 16: U+00C0 to U+017F, and the comma-below S and T of Romanian."""
    letters = [chr(code) for code in [*range(0xC0, 0x180), *range(0x218, 0x21C)] if chr(code).isalpha()]
    assert len(letters) > 190
    assert [letter for letter in letters if not fold(letter).replace("·", "").isascii()] == []  # ŀ keeps its point
    assert [letter for letter in letters if fold(fold(letter)) != fold(letter)] == []


def test_a_model_of_the_specs_is_found_by_a_plain_letter_too(shop: Shop) -> None:
    model = factories.SuspensionModelFactory(maker="Ødegård", name="Plume 130", year_from=2019, year_to=2021)
    factories.SuspensionModelFactory(maker="Brindlemoor", name="Tor 36")
    for text in ("odegard", "ØDEGÅRD plume", "plume 130"):
        assert find_models(text) == [model], text
        assert list(models_named(text)) == [model], text
    assert list(models_named("odegard 2020")) == [model]
    assert not models_named("odegard 2030").exists()
