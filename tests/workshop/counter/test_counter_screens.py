"""The Counter's pages: who may open them, other shops' records, and forms that lose nothing."""

from __future__ import annotations

import datetime as dt
import io
import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from tests import factories
from tests.known import known
from workshop.models import Customer, Photo, Shop, SuspensionUnit, Ticket, User
from workshop.tickets.photos import add_photo, decode_photo

pytestmark = pytest.mark.django_db
BACKEND = "workshop.staff.backend.StaffBackend"
HTMX: dict[str, Any] = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture
def shop(db: None) -> Shop:
    return factories.ShopFactory()


@pytest.fixture
def counter(client: Client, shop: Shop) -> Client:
    client.force_login(factories.UserFactory(shop=shop), backend=BACKEND)
    return client


def a_photo(name: str = "fork.jpg") -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "teal").save(out, "JPEG")
    return SimpleUploadedFile(name, out.getvalue(), "image/jpeg")


def kept_photo(ticket: Ticket) -> Photo:
    return add_photo(ticket=ticket, by=None, photo=decode_photo(a_photo()))


def addresses(ticket: Ticket) -> dict[str, str]:
    """Every page of the Counter that is read, by its name."""
    bike = factories.BikeFactory(customer=ticket.customer)
    number, customer, unit = [ticket.number], [ticket.customer.pk], [ticket.unit.pk]
    return {
        "today": reverse("counter:today"),
        "search": reverse("counter:search") + "?q=a",
        "tickets": reverse("counter:tickets"),
        "ticket": reverse("counter:ticket", args=number),
        "settings": reverse("counter:settings", args=[*number, "arrival"]),
        "customers": reverse("counter:customers"),
        "customer": reverse("counter:customer", args=customer),
        "bike": reverse("counter:bike", args=[bike.pk]),
        "unit": reverse("counter:unit", args=unit),
        "models": reverse("counter:models") + "?described_as=plume",
        "photo": reverse("counter:photo", args=[kept_photo(ticket).pk]),
        "small_photo": reverse("counter:small_photo", args=[kept_photo(ticket).pk]),
        "book_in": reverse("counter:book_in"),
        "edit_agreement": reverse("counter:edit_agreement", args=number),
        "new_customer": reverse("counter:new_customer"),
        "change_customer": reverse("counter:change_customer", args=customer),
        "new_bike": reverse("counter:new_bike", args=customer),
        "change_bike": reverse("counter:change_bike", args=[bike.pk]),
        "new_unit": reverse("counter:new_unit", args=customer),
        "change_unit": reverse("counter:change_unit", args=unit),
        "give_unit": reverse("counter:give_unit", args=unit),
        "hand_back": reverse("counter:hand_back", args=number),
    }


OF_THE_COUNTER = {
    "book_in", "edit_agreement", "new_customer", "change_customer", "new_bike", "change_bike", "new_unit",
    "change_unit", "give_unit", "hand_back",
}  # fmt: skip
OF_NOBODY_IN_PARTICULAR = {"today", "search", "tickets", "customers", "models", "book_in", "new_customer"}


@pytest.mark.parametrize("role", User.Role.values)
def test_each_role_opens_what_it_may(client: Client, shop: Shop, role: str) -> None:
    ticket = factories.TicketFactory(shop=shop, state="ready")
    client.force_login(factories.UserFactory(shop=shop, role=role), backend=BACKEND)
    for name, address in addresses(ticket).items():
        allowed = role != User.Role.MECHANIC or name not in OF_THE_COUNTER
        assert client.get(address).status_code == (200 if allowed else 403), name


def test_nobody_gets_in_without_signing_in(client: Client, shop: Shop) -> None:
    for name, address in addresses(factories.TicketFactory(shop=shop)).items():
        response = client.get(address)
        assert response.status_code == 302, name
        assert response["Location"].startswith(reverse("sign_in")), name


def test_records_of_another_shop_are_not_there(counter: Client) -> None:
    for name, address in addresses(factories.TicketFactory(state="ready")).items():
        if name not in OF_NOBODY_IN_PARTICULAR:
            assert counter.get(address).status_code == 404, name


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("move", {"to": "on_the_bench", "seen_version": "1"}),
        ("add_condition", {"place": "Crown", "text": "Scratch"}),
        ("add_photos", {}),
        ("edit_agreement", {"complaint_words": "x", "promised_on": "2030-01-01", "seen_version": "1"}),
        ("hand_back", {"seen_version": "1"}),
    ],
)
def test_nothing_is_written_to_another_shops_ticket(counter: Client, name: str, data: dict[str, object]) -> None:
    ticket = factories.TicketFactory(state="ready")
    assert counter.post(reverse(f"counter:{name}", args=[ticket.number]), data).status_code == 404
    ticket.refresh_from_db()
    assert (ticket.version, ticket.events.count()) == (1, 0)


@pytest.mark.parametrize("name", ["move", "add_condition", "add_photos"])
def test_what_writes_is_not_read(counter: Client, shop: Shop, name: str) -> None:
    ticket = factories.TicketFactory(shop=shop)
    assert counter.get(reverse(f"counter:{name}", args=[ticket.number])).status_code == 405


def test_the_first_page_and_what_follows_it_say_what_presses(counter: Client, shop: Shop) -> None:
    today = timezone.localdate()
    late = factories.TicketFactory(shop=shop, promised_on=today - dt.timedelta(days=1))
    due = factories.TicketFactory(shop=shop, promised_on=today, state="on_the_bench")
    in_danger = factories.TicketFactory(shop=shop, promised_on=today + dt.timedelta(days=1))
    factories.PartLineFactory(ticket=in_danger, part=None, words="Odd circlip")
    factories.TicketFactory(shop=shop, promised_on=today + dt.timedelta(days=9), state="on_the_bench")
    ready = factories.TicketFactory(shop=shop, promised_on=today - dt.timedelta(days=1), state="ready")
    asked = factories.TicketFactory(shop=shop, waiting=True)
    factories.TicketFactory(promised_on=today)
    day = counter.get(reverse("counter:today")).context["day"]
    outlook = counter.get(reverse("counter:outlook")).context["outlook"]
    assert [t.pk for t in outlook.in_danger] == [late.pk, due.pk, in_danger.pk]
    assert [t.pk for t in day.ready] == [ready.pk]
    assert [t.pk for t in day.unanswered] == [asked.pk]
    assert (day.late_count, day.open_count, len(day.lately)) == (1, 6, 6)


def booking(**changes: object) -> dict[str, object]:
    return {
        "client_id": str(uuid.uuid4()),
        "customer-name": "Jana Novák",
        "customer-phone": "0555 010 447",
        "unit-described_as": "Kestrigan Plume",
        "unit-kind": "fork",
        "unit-serial": "KP-1",
        "unit-travel_m": "130",
        "bike-description": "Green hardtail",
        "ticket-complaint_words": "Sits low.",
        "ticket-promised_on": (timezone.localdate() + dt.timedelta(days=3)).isoformat(),
        "arrival-pressure_pa": "5.6 bar",
        "arrival-rebound_clicks": "7",
        "mark0-place": "Left stanchion",
        "mark0-text": "Scratch",
        **changes,
    }


def test_a_new_customer_with_a_new_fork_is_booked_in(counter: Client) -> None:
    response = counter.post(reverse("counter:book_in"), booking(**{"arrived-photos": [a_photo(), a_photo("b.jpg")]}))
    ticket = Ticket.objects.get()
    assert response["Location"] == reverse("counter:ticket", args=[ticket.number])
    assert (ticket.customer.name, ticket.unit.serial, ticket.unit.travel_m) == ("Jana Novák", "KP-1", 0.13)
    assert known(ticket.bike).description == "Green hardtail"
    record = ticket.settings_records.get()
    assert record.pressure_pa == pytest.approx(560_000)  # 5.6 bar; 1 bar is 100 kPa exactly (NIST SP 811)
    assert record.rebound_clicks == 7
    assert ticket.condition_notes.count() == 1
    assert ticket.photos.count() == 2


def test_a_known_customer_and_fork_are_chosen_not_doubled(counter: Client, shop: Shop) -> None:
    unit = factories.SuspensionUnitFactory(shop=shop)
    bike = factories.BikeFactory(customer=unit.customer)
    chosen = {"customer": unit.customer.pk, "unit": unit.pk, "bike": bike.pk, "customer-name": "", "unit-travel_m": "x"}
    counter.post(reverse("counter:book_in"), booking(**chosen))
    ticket = Ticket.objects.get()
    assert (ticket.customer, ticket.unit, ticket.bike) == (unit.customer, unit, bike)
    assert (Customer.objects.count(), SuspensionUnit.objects.count()) == (1, 1)


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("customer-name", "", "Enter the customer’s name"),
        ("unit-described_as", "", "Choose a model, or say in words"),
        ("unit-travel_m", "13000", "Forks and shocks move 10 to 300 mm"),
        ("unit-travel_m", "80 psi", "not a unit of length"),
        ("ticket-complaint_words", " ", "Enter what the customer said"),
        ("ticket-promised_on", "", "Choose the day"),
        ("ticket-promised_on", "2020-01-01", "That day is over"),
        ("ticket-promised_on", "soon", "Enter a day as"),
        ("ticket-price_ceiling", "-5", "Enter 0 or more."),
        ("arrival-pressure_pa", "8200", "work below 400 psi"),
        ("arrival-rebound_clicks", "7.5", "Count whole clicks"),
        ("arrival-rebound_clicks", "-1", "Enter 0 or more."),
        ("mark0-text", "", "Enter this."),
        ("arrived-photos", SimpleUploadedFile("a.svg", b"<svg/>"), "no photo that can be read"),
    ],
)
def test_a_refused_booking_says_why_and_keeps_what_was_typed(
    counter: Client, field: str, value: object, says: str
) -> None:
    response = counter.post(reverse("counter:book_in"), booking(**{field: value}))
    page = response.content.decode()
    assert response.status_code == 422
    assert says in page
    assert not Ticket.objects.exists()
    assert not Customer.objects.exists()
    for typed in ("0555 010 447", "KP-1", "Green hardtail", "5.6 bar", "Left stanchion"):
        assert typed in page or field in {"arrival-pressure_pa"}, typed


def test_photos_that_a_browser_drops_are_asked_for_again(counter: Client) -> None:
    data = booking(**{"customer-name": "", "arrived-photos": [a_photo()]})
    assert "Choose the photos again" in counter.post(reverse("counter:book_in"), data).content.decode()


def test_with_script_the_chosen_photos_stay_and_nothing_is_asked(counter: Client) -> None:
    data = booking(**{"customer-name": "", "arrived-photos": [a_photo()]})
    response = counter.post(reverse("counter:book_in"), data, **HTMX)
    page = response.content.decode()
    assert response.status_code == 422
    assert "Choose the photos again" not in page
    assert 'hx-preserve="true"' in page
    assert "<html" not in page


def test_a_form_sent_twice_books_once(counter: Client) -> None:
    data = booking()
    first = counter.post(reverse("counter:book_in"), data)
    second = counter.post(reverse("counter:book_in"), data)
    assert first["Location"] == second["Location"]
    assert Ticket.objects.count() == 1


def test_a_fork_changes_hands_only_when_somebody_says_so(counter: Client, shop: Shop) -> None:
    unit = factories.SuspensionUnitFactory(shop=shop)
    data = booking(unit=unit.pk)
    response = counter.post(reverse("counter:book_in"), data)
    assert "on record as" in response.content.decode()
    assert not Ticket.objects.exists()
    counter.post(reverse("counter:book_in"), {**data, "passes_on": unit.pk})
    unit.refresh_from_db()
    assert unit.customer.name == "Jana Novák"
    assert Ticket.objects.get().customer == unit.customer


def test_records_of_another_shop_cannot_be_booked_in(counter: Client) -> None:
    unit = factories.SuspensionUnitFactory()
    data = booking(customer=unit.customer.pk, unit=unit.pk)
    counter.post(reverse("counter:book_in"), data)
    ticket = Ticket.objects.get()
    assert ticket.customer != unit.customer
    assert ticket.unit != unit


def test_looking_up_without_script_keeps_what_was_typed_and_shows_who_it_may_be(counter: Client, shop: Shop) -> None:
    known = factories.CustomerFactory(shop=shop, name="Jana Novák")
    response = counter.post(reverse("counter:book_in_look_up"), booking())
    page = response.content.decode()
    assert response.status_code == 200
    assert f'value="{known.pk}"' in page
    assert "Sits low." in page
    assert "form-errors" not in page
    assert not Ticket.objects.exists()


def test_fragments_while_typing(counter: Client, shop: Shop) -> None:
    unit = factories.SuspensionUnitFactory(shop=shop, serial="KP-1")
    unit.search_text = "kestrigan plume kp-1 kp1"
    unit.save()
    bike = factories.BikeFactory(customer=unit.customer)
    model = factories.SuspensionModelFactory(name="Plume 999")
    part = {"customer-name": unit.customer.name, "unit-serial": "kp1", "unit-described_as": "plume 999"}
    page = {
        name: counter.post(reverse(f"counter:book_in_{name}"), {**part, **more}, **HTMX).content.decode()
        for name, more in {
            "customers": {},
            "things": {"customer": unit.customer.pk},
            "models": {},
            "serials": {},
        }.items()
    }
    assert unit.customer.name in page["customers"]
    assert unit.title in page["things"]
    assert bike.description in page["things"]
    assert f'value="{model.pk}"' in page["models"]
    assert "<html" not in "".join(page.values())
    short = {**part, "unit-serial": "kp"}
    assert "That serial is known" not in counter.post(reverse("counter:book_in_serials"), short).content.decode()


def test_a_fork_that_is_in_the_shop_cannot_be_chosen(counter: Client, shop: Shop) -> None:
    ticket = factories.TicketFactory(shop=shop)
    page = counter.get(reverse("counter:book_in") + f"?customer={ticket.customer.pk}").content.decode()
    assert f"in the shop on ticket {ticket.number}" in page
    assert "disabled" in page


@pytest.mark.parametrize("bad", ["x", "0", "-1", "999999999999999999999", "1 OR 1"])
def test_ids_that_are_none_are_as_if_not_sent(counter: Client, bad: str) -> None:
    response = counter.get(reverse("counter:book_in"), {"customer": bad, "unit": bad, "client_id": bad})
    assert response.status_code == 200
    counter.post(reverse("counter:book_in"), booking(customer=bad, unit=bad, bike=bad, client_id=bad))
    assert Ticket.objects.get().customer.name == "Jana Novák"


def test_a_move_is_made_with_its_reason(counter: Client, shop: Shop) -> None:
    ticket = factories.TicketFactory(shop=shop)
    url = reverse("counter:move", args=[ticket.number])
    counter.post(url, {"to": "waiting:customer", "reason": "Would cost 310", "seen_version": "1"})
    ticket.refresh_from_db()
    assert (ticket.state, ticket.waiting_for) == ("waiting", "customer")
    assert "Would cost 310" in counter.get(reverse("counter:today")).content.decode()


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"to": "handed_back"}, "not open to this ticket"),
        ({"to": "nonsense"}, "not open to this ticket"),
        ({"to": "called_off"}, "Say why it is cancelled"),
        ({}, "Choose one."),
    ],
)
def test_a_move_that_cannot_be_is_refused_beside_its_field(
    counter: Client, shop: Shop, data: dict[str, object], says: str
) -> None:
    ticket = factories.TicketFactory(shop=shop)
    response = counter.post(reverse("counter:move", args=[ticket.number]), {"seen_version": "1", **data})
    assert response.status_code == 422
    assert says in response.content.decode()
    ticket.refresh_from_db()
    assert ticket.state == "booked_in"


def test_hand_back_writes_the_settings_and_closes(counter: Client, shop: Shop) -> None:
    ticket = factories.TicketFactory(shop=shop, state="ready")
    url = reverse("counter:hand_back", args=[ticket.number])
    refused = counter.post(url, {"seen_version": "1", "rebound_clicks": "many"})
    assert refused.status_code == 422
    assert 'value="many"' in refused.content.decode()
    assert counter.post(url, {"seen_version": "1", "rebound_clicks": "9", "pressure_pa": "80"}).status_code == 302
    ticket.refresh_from_db()
    assert ticket.state == "handed_back"
    page = counter.get(reverse("counter:ticket", args=[ticket.number])).content.decode()
    assert "80 psi" in page
    assert "This ticket is closed" in page


def test_what_is_not_ready_is_not_handed_back(counter: Client, shop: Shop) -> None:
    ticket = factories.TicketFactory(shop=shop)
    assert counter.post(reverse("counter:hand_back", args=[ticket.number]), {"seen_version": "1"}).status_code == 302
    ticket.refresh_from_db()
    assert ticket.state == "booked_in"


def test_a_mark_and_photos_are_added_to_a_ticket(counter: Client, shop: Shop) -> None:
    ticket = factories.TicketFactory(shop=shop)
    counter.post(reverse("counter:add_condition", args=[ticket.number]), {"place": "Crown", "text": "Dent"})
    counter.post(reverse("counter:add_photos", args=[ticket.number]), {"photos": [a_photo()], "caption": "Dent"})
    assert (ticket.condition_notes.get().text, ticket.photos.get().caption) == ("Dent", "Dent")


def test_refused_marks_and_photos_say_why_on_the_ticket(counter: Client, shop: Shop) -> None:
    ticket = factories.TicketFactory(shop=shop)
    mark = counter.post(reverse("counter:add_condition", args=[ticket.number]), {"place": "Crown"})
    photo = counter.post(
        reverse("counter:add_photos", args=[ticket.number]), {"photos": [SimpleUploadedFile("a.txt", b"text")]}
    )
    assert (mark.status_code, photo.status_code) == (422, 422)
    assert 'value="Crown"' in mark.content.decode()
    assert "no photo that can be read" in photo.content.decode()
    assert not Photo.objects.exists()


def test_a_photo_is_served_as_what_it_is(counter: Client, shop: Shop) -> None:
    photo = kept_photo(factories.TicketFactory(shop=shop))
    response = counter.get(reverse("counter:photo", args=[photo.pk]), secure=True)
    assert (response["Content-Type"], response["X-Content-Type-Options"]) == ("image/jpeg", "nosniff")
    assert "private" in response["Cache-Control"]
    assert response.getvalue()[:3] == b"\xff\xd8\xff"


def test_a_ticket_number_leads_straight_to_its_ticket(counter: Client, shop: Shop) -> None:
    factories.TicketFactory(shop=shop, number=1047)
    response = counter.get(reverse("counter:search"), {"q": "1047"})
    assert response["Location"] == reverse("counter:ticket", args=[1047])


def test_search_shows_a_few_while_typing_and_more_of_them_on_a_page(counter: Client, shop: Shop) -> None:
    for n in range(10):
        factories.CustomerFactory(shop=shop, name=f"Jana Novák {n}", search_text=f"jana novak {n}")
    page = counter.get(reverse("counter:search"), {"q": "jana"}).content.decode()
    fragment = counter.get(reverse("counter:search"), {"q": "jana"}, **HTMX).content.decode()
    assert [page.count("Jana Novák"), fragment.count("Jana Novák")] == [10, 6]
    assert "the first of more" in fragment
    assert "press Find" in fragment
    assert "the first of more" not in page
    assert "press Find" not in page


def test_search_answers_a_page_or_while_typing_a_fragment(counter: Client, shop: Shop) -> None:
    factories.CustomerFactory(shop=shop, name="Jana Novák", search_text="jana novak")
    page = counter.get(reverse("counter:search"), {"q": "jana"}).content.decode()
    fragment = counter.get(reverse("counter:search"), {"q": "jana"}, **HTMX).content.decode()
    assert "Jana Novák" in page
    assert "Jana Novák" in fragment
    assert "<html" in page
    assert "<html" not in fragment


def test_consent_is_kept_with_its_time_and_can_be_withdrawn(counter: Client, shop: Shop) -> None:
    typed = {"name": "Jana", "preferred_contact": "email", "agreed_to_reminders": "on"}
    counter.post(reverse("counter:new_customer"), typed)
    customer = Customer.objects.get()
    assert customer.agreed_to_reminders_at is not None
    del typed["agreed_to_reminders"]
    counter.post(reverse("counter:change_customer", args=[customer.pk]), {**typed, "seen_version": "1"})
    customer.refresh_from_db()
    customer = Customer.objects.get(pk=customer.pk)
    assert (customer.agreed_to_reminders, customer.agreed_to_reminders_at) == (False, None)


@pytest.mark.parametrize(
    ("kind", "spring", "asks"), [("fork", "air", True), ("fork", "coil", False), ("shock", "air", False)]
)
def test_only_a_fork_with_air_has_an_air_side(counter: Client, shop: Shop, kind: str, spring: str, asks: bool) -> None:
    unit = factories.SuspensionUnitFactory(shop=shop, model=None, kind=kind, spring_kind=spring, air_side="")
    page = counter.get(reverse("counter:unit", args=[unit.pk])).text
    assert ("<dt>Spring side</dt>" in page) == asks


def test_a_unit_is_moved_to_another_bike_and_taken_off(counter: Client, shop: Shop) -> None:
    fitting = factories.FittingFactory(unit__shop=shop)
    bike = factories.BikeFactory(customer=fitting.unit.customer)
    url = reverse("counter:move_unit", args=[fitting.unit.pk])
    today = timezone.localdate().isoformat()
    assert counter.post(url, {"bike": bike.pk, "since": today}).status_code == 302
    assert fitting.unit.fittings.get(until__isnull=True).bike == bike
    refused = counter.post(url, {"bike": "", "since": "2020-01-01"})
    assert refused.status_code == 422
    assert counter.post(url, {"bike": "", "since": today}).status_code == 302
    assert not fitting.unit.fittings.filter(until__isnull=True).exists()


def test_a_unit_is_given_to_a_customer_of_this_shop_only(counter: Client, shop: Shop) -> None:
    unit = factories.SuspensionUnitFactory(shop=shop)
    url = reverse("counter:give_unit", args=[unit.pk])
    stranger, neighbour = factories.CustomerFactory(), factories.CustomerFactory(shop=shop)
    assert counter.post(url, {"customer": stranger.pk}).status_code == 404
    assert counter.post(url, {"customer": neighbour.pk}).status_code == 302
    unit.refresh_from_db()
    assert unit.customer == neighbour


def test_tickets_are_listed_by_state_fifty_a_page(counter: Client, shop: Shop) -> None:
    factories.TicketFactory.create_batch(51, shop=shop)
    ready = factories.TicketFactory(shop=shop, state="ready")
    first = counter.get(reverse("counter:tickets"), {"show": "booked_in"}).context
    assert (len(first["page"].object_list), first["page"].paginator.num_pages) == (50, 2)
    assert [t.pk for t in counter.get(reverse("counter:tickets"), {"show": "ready"}).context["page"]] == [ready.pk]
    for odd in ({"show": "nonsense", "page": "x"}, {"page": "9999"}):
        assert counter.get(reverse("counter:tickets"), odd).status_code == 200


def test_the_list_of_tickets_handed_back_goes_on_from_the_last_number(counter: Client, shop: Shop) -> None:
    for number in range(1, 53):
        factories.TicketFactory(shop=shop, number=number, state="handed_back")
    first = counter.get(reverse("counter:tickets"), {"show": "handed_back"})
    assert [ticket.number for ticket in first.context["page"].object_list] == list(range(52, 2, -1))
    assert "before=3" in first.content.decode()
    rest = counter.get(reverse("counter:tickets"), {"show": "handed_back", "before": "3"})
    assert [ticket.number for ticket in rest.context["page"].object_list] == [2, 1]
    assert "before=" not in rest.content.decode().split("<main", 1)[1]


@pytest.mark.parametrize("after", ["", "x", "0", "-1", "9" * 30])
def test_a_place_in_the_list_of_customers_that_is_none_is_the_beginning(
    counter: Client, shop: Shop, after: str
) -> None:
    customer = factories.CustomerFactory(shop=shop)
    response = counter.get(reverse("counter:customers"), {"after": after})
    assert list(response.context["page"].object_list) == [customer]


def test_customers_of_one_name_are_each_listed_once(counter: Client, shop: Shop) -> None:
    made = [factories.CustomerFactory(shop=shop, name="Jana Novák") for _ in range(52)]
    first = counter.get(reverse("counter:customers")).context["page"]
    rest = counter.get(reverse("counter:customers"), {"after": first.next_key}).context["page"]
    assert [*first.object_list, *rest.object_list] == made


def test_booking_in_opens_with_the_focus_on_what_is_missing(counter: Client, shop: Shop) -> None:
    def focused(**asked: int) -> list[str]:
        page = counter.get(reverse("counter:book_in"), asked).content.decode()
        return [tag.partition(">")[0].split('name="')[1].split('"')[0] for tag in page.split("<") if "autofocus" in tag]

    one_fork = factories.SuspensionUnitFactory(shop=shop, customer__shop=shop)
    assert focused() == ["customer-name"]
    assert focused(customer=one_fork.customer_id) == ["ticket-complaint_words"]
    factories.SuspensionUnitFactory(shop=shop, customer=one_fork.customer)
    assert focused(customer=one_fork.customer_id) == [], "which of two is asked first"
    assert focused(unit=one_fork.pk) == ["ticket-complaint_words"]
