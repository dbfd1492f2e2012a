"""Every look-up of the app as people use it: typed, typed again, emptied, corrected, and after going back."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from tests import factories
from tests import known as what_is
from workshop.models import Customer, Ticket, User
from workshop.stock.models import StockItem

SignIn = Callable[[Page, User], None]
OpenScreen = Callable[..., Page]


@pytest.fixture
def clerk(transactional_db: None) -> User:
    """A shop with two customers of a fork and a bike each, and the models of those forks."""
    clerk: User = factories.UserFactory()
    for name, phone, maker, model, serial in (
        ("Petra Quarrington", "0555 020 300", "Kestrigan", "Plume 130", "KP-00129"),
        ("Ilan Thistlewood", "0555 040 500", "Brindlemoor", "Tor 36", "BT-77001"),
    ):
        customer = factories.CustomerFactory(shop=clerk.shop, name=name, phone=phone)
        unit = factories.SuspensionUnitFactory(
            shop=clerk.shop,
            customer=customer,
            model=factories.SuspensionModelFactory(maker=maker, name=model),
            serial=serial,
            search_text=f"{maker} {model} {serial} {serial.replace('-', '')}".lower(),
        )
        bike = factories.BikeFactory(customer=customer, description=f"{name.split()[0]}’s hardtail")
        factories.FittingFactory(unit=unit, bike=bike)
    complaint = {"key": "loses-air", "title": "Loses air", "symptoms": ["loses air", "goes flat"]}
    factories.ComplaintFactory(**complaint, position=1)
    factories.ComplaintFactory(key="knocks", title="Knocks", symptoms=["knocks", "clunks"], position=2)
    return clerk


def type_over(box: Locator, text: str) -> None:
    """As a person does: everything in the field is replaced, key by key."""
    box.click()
    box.press("Control+a")
    box.press("Delete")
    box.press_sequentially(text, delay=15)


def book_in_page(page: Page, sign_in: SignIn, clerk: User) -> Page:
    sign_in(page, clerk)
    page.goto("/counter/book-in/")
    return page


def known(page: Page, name: str) -> Locator:
    return page.locator("#customer-hits .pick", has_text=name)


def test_customers_follow_the_name_typed_again_emptied_and_corrected(
    tablet: Page, sign_in: SignIn, clerk: User
) -> None:
    page = book_in_page(tablet, sign_in, clerk)
    name, hits = page.get_by_label("Name", exact=True), page.locator("#customer-hits")
    for typed, there, gone in (
        ("quar", "Petra Quarrington", "Ilan Thistlewood"),
        ("thistle", "Ilan Thistlewood", "Petra Quarrington"),
        ("quar", "Petra Quarrington", "Ilan Thistlewood"),
    ):
        type_over(name, typed)
        expect(hits).to_contain_text(there)
        expect(hits).not_to_contain_text(gone)
    type_over(name, "")
    expect(hits).to_have_text("")
    type_over(name, "nobody here")
    expect(hits).to_have_text("")
    type_over(page.get_by_label("Phone", exact=True), "040500")
    expect(hits).to_contain_text("Ilan Thistlewood")


def test_another_customer_brings_their_own_things_and_not_those_of_the_first(
    tablet: Page, sign_in: SignIn, clerk: User
) -> None:
    page = book_in_page(tablet, sign_in, clerk)
    name, things = page.get_by_label("Name", exact=True), page.locator("#things")
    for _ in range(2):
        type_over(name, "quar")
        known(page, "Petra Quarrington").click()
        expect(page.get_by_role("radio", name=re.compile("KP-00129"))).to_be_checked()
        expect(things).to_contain_text("Petra’s hardtail")
        type_over(name, "thistle")
        known(page, "Ilan Thistlewood").click()
        expect(page.get_by_role("radio", name=re.compile("BT-77001"))).to_be_checked()
        expect(things).not_to_contain_text("KP-00129")
        expect(things).not_to_contain_text("Petra’s hardtail")
    page.get_by_text("A new customer, as typed above").click()
    expect(things).not_to_contain_text("BT-77001")
    expect(page.get_by_role("radio", name="A new customer, as typed above")).to_be_checked()
    expect(page.get_by_label("Make and model")).to_be_visible()


def test_a_chosen_customer_stays_chosen_under_another_name_and_the_page_says_so(
    tablet: Page, sign_in: SignIn, clerk: User
) -> None:
    page = book_in_page(tablet, sign_in, clerk)
    name, hits = page.get_by_label("Name", exact=True), page.locator("#customer-hits")
    type_over(name, "quar")
    known(page, "Petra Quarrington").click()
    expect(page.get_by_role("radio", name=re.compile("KP-00129"))).to_be_checked()
    expect(hits).not_to_contain_text("still chosen")
    type_over(name, "Zelda Ambrose")
    expect(hits).to_contain_text("Petra Quarrington is still chosen")
    type_over(name, "petra")
    expect(hits).not_to_contain_text("still chosen")


def test_a_model_typed_in_full_is_chosen_and_follows_a_correction(tablet: Page, sign_in: SignIn, clerk: User) -> None:
    page = book_in_page(tablet, sign_in, clerk)
    model, hits = page.get_by_label("Make and model"), page.locator("#model-hits")
    for typed, chosen in (("Kestrigan Plume 130", "Plume 130"), ("brindlemoor tor 36", "Tor 36")) * 2:
        type_over(model, typed)
        expect(hits.get_by_role("radio", name=re.compile(chosen))).to_be_checked()
    type_over(model, "tor")
    expect(hits.get_by_role("radio", name=re.compile("Tor 36"))).to_be_checked()
    type_over(model, "plume")
    expect(hits.get_by_role("radio", name=re.compile("as typed"))).to_be_checked()
    type_over(model, "an old fork")
    expect(hits).to_contain_text("Not in the list of models")
    type_over(model, "kestrigan plume 130")
    expect(hits.get_by_role("radio", name=re.compile("Plume 130"))).to_be_checked()
    hits.get_by_text("Another; as typed above").click()
    type_over(page.get_by_label("Travel", exact=False), "130")
    expect(hits.get_by_role("radio", name=re.compile("as typed"))).to_be_checked()


def test_a_serial_typed_again_finds_the_other_fork_and_none_when_emptied(
    tablet: Page, sign_in: SignIn, clerk: User
) -> None:
    page = book_in_page(tablet, sign_in, clerk)
    serial, hits = page.get_by_label("Serial"), page.locator("#serial-hits")
    for typed, there, gone in (("kp 00129", "KP-00129", "BT-77001"), ("bt77001", "BT-77001", "KP-00129")) * 2:
        type_over(serial, typed)
        expect(hits).to_contain_text(there)
        expect(hits).not_to_contain_text(gone)
    type_over(serial, "")
    expect(hits).to_have_text("")
    type_over(serial, "bt77001")
    hits.get_by_text("BT-77001").click()
    expect(page.get_by_role("radio", name=re.compile("Ilan Thistlewood"))).to_be_checked()
    page.get_by_text("Another fork or shock").click()
    type_over(serial, "kp 00129")
    expect(hits).to_contain_text("KP-00129")


def test_what_it_sounds_like_and_the_honest_day_follow_every_change(tablet: Page, sign_in: SignIn, clerk: User) -> None:
    page = book_in_page(tablet, sign_in, clerk)
    words, heard = page.get_by_label("In the customer’s words"), page.locator("#sounds-like")
    for typed, there, gone in (("it loses air", "loses air", "knocks"), ("it knocks", "knocks", "loses air")) * 2:
        type_over(words, typed)
        expect(heard).to_contain_text(there)
        expect(heard).not_to_contain_text(gone)
    type_over(words, "")
    expect(heard).to_have_text("")
    for _ in range(2):
        with page.expect_response("**/book-in/promise/"):
            page.get_by_role("checkbox", name="Loses air").click()
        expect(page.locator("#honest-day")).to_contain_text("earliest realistic day")


def test_a_booking_after_every_change_of_mind_is_what_stands_on_the_page(
    tablet: Page, sign_in: SignIn, clerk: User
) -> None:
    page = book_in_page(tablet, sign_in, clerk)
    name = page.get_by_label("Name", exact=True)
    type_over(name, "quar")
    known(page, "Petra Quarrington").click()
    expect(page.get_by_role("radio", name=re.compile("KP-00129"))).to_be_checked()
    type_over(name, "thistle")
    known(page, "Ilan Thistlewood").click()
    expect(page.get_by_role("radio", name=re.compile("BT-77001"))).to_be_checked()
    type_over(page.get_by_label("In the customer’s words"), "it knocks")
    page.locator(".load__day").nth(3).click()
    page.get_by_role("button", name="Book in").click()
    page.wait_for_url(re.compile(r"/counter/tickets/\d+/$"))
    ticket = Ticket.objects.get()
    assert (ticket.customer.name, ticket.unit.serial) == ("Ilan Thistlewood", "BT-77001")
    page.go_back()
    expect(page.get_by_role("heading", name="Book in", exact=True)).to_be_visible()
    type_over(name, "quar")
    expect(page.locator("#customer-hits")).to_contain_text("Petra Quarrington")
    type_over(name, "thistle")
    expect(page.locator("#customer-hits")).not_to_contain_text("Petra Quarrington")
    assert Customer.objects.count() == 2


def test_a_known_phone_under_a_mistyped_name_makes_nobody_twice(
    tablet: Page, sign_in: SignIn, clerk: User, allowed_problems: list[str]
) -> None:
    allowed_problems.append("status of 422")
    page = book_in_page(tablet, sign_in, clerk)
    page.route("**/book-in/customers/", lambda route: route.fulfill(status=204))  # the clerk is faster than the list
    type_over(page.get_by_label("Name", exact=True), "Petra Kwarington")
    type_over(page.get_by_label("Phone", exact=True), "+44 555 020300")
    type_over(page.get_by_label("Make and model"), "An old fork")
    type_over(page.get_by_label("In the customer’s words"), "it knocks")
    page.locator(".load__day").nth(3).click()
    page.get_by_role("button", name="Book in").click()
    expect(page.get_by_role("alert")).to_contain_text("is the number of Petra Quarrington")
    expect(page.get_by_label("Name", exact=True)).to_have_value("Petra Kwarington")
    known(page, "Petra Quarrington").click()
    expect(page.get_by_role("radio", name=re.compile("KP-00129"))).to_be_visible()
    page.get_by_role("button", name="Book in").click()
    page.wait_for_url(re.compile(r"/counter/tickets/\d+/$"))
    assert Customer.objects.count() == 2


def test_an_email_address_is_judged_as_it_is_typed_corrected_and_emptied(
    open_screen: OpenScreen, sign_in: SignIn, clerk: User
) -> None:
    page = open_screen("phone")
    sign_in(page, clerk)
    page.goto("/counter/customers/new/")
    box, said = page.get_by_label("Email"), page.locator("#email-said")
    for _ in range(2):
        type_over(box, "petra@")
        expect(said).to_contain_text("no whole email address")
        type_over(box, "petra@mill.example")
        expect(said).to_have_text("")
        type_over(box, "petra@mill")
        expect(said).to_contain_text("no whole email address")
        type_over(box, "")
        expect(said).to_have_text("")


@pytest.mark.parametrize(("address", "box", "found"), [
    ("/counter/", "#lookup", "#lookup-results"), ("/counter/search/", "#search-text", "#search-results"),
    ("/counter/search/?q=quar", "#search-text", "#search-results"),
])  # fmt: skip
@pytest.mark.parametrize("screen", ["tablet", "phone"])
def test_is_it_ready_follows_every_change_also_after_going_back(
    open_screen: OpenScreen, sign_in: SignIn, clerk: User, screen: str, address: str, box: str, found: str
) -> None:
    page = open_screen(screen)
    sign_in(page, clerk)
    page.goto(address)
    for _ in range(2):
        for typed, there, gone in (("quar", "Petra", "Ilan"), ("thistle", "Ilan", "Petra"), ("zzz", "Nothing", "Ilan")):
            type_over(page.locator(box), typed)
            expect(page.locator(found)).to_contain_text(there)
            expect(page.locator(found)).not_to_contain_text(gone)
        type_over(page.locator(box), "")
        expect(page.locator(found)).to_have_text("")
        type_over(page.locator(box), "quar")
        page.locator(found).get_by_role("link", name=re.compile("Petra Quarrington")).first.click()
        expect(page.get_by_role("heading", level=1)).to_contain_text("Petra Quarrington")
        page.go_back()
        if page.locator(box).input_value() == "":
            expect(page.locator(found)).to_have_text("")
        else:
            expect(page.locator(found)).to_contain_text("Petra")


def test_the_model_of_a_units_own_page_follows_every_change(tablet: Page, sign_in: SignIn, clerk: User) -> None:
    unit = Customer.objects.get(name="Petra Quarrington").units.get()
    sign_in(tablet, clerk)
    tablet.goto(f"/counter/units/{unit.pk}/edit/")
    model, hits = tablet.get_by_label("Make and model"), tablet.locator("#model-hits")
    expect(hits.get_by_role("radio", name=re.compile("Plume 130"))).to_be_checked()
    for typed, chosen in (("brindlemoor tor 36", "Tor 36"), ("kestrigan plume 130", "Plume 130")) * 2:
        type_over(model, typed)
        expect(hits.get_by_role("radio", name=re.compile(chosen))).to_be_checked()
    type_over(model, "brindlemoor")
    expect(hits.get_by_role("radio", name=re.compile("as typed"))).to_be_checked()
    expect(hits).to_contain_text("Plume 130")  # what was chosen is one press away
    hits.get_by_text("Tor 36").click()
    tablet.get_by_role("button", name="Save").click()
    expect(tablet.get_by_text("The unit is saved.")).to_be_visible()
    unit.refresh_from_db()
    assert what_is.known(unit.model).name == "Tor 36"


def test_the_models_of_the_specs_follow_every_change(tablet: Page, sign_in: SignIn, clerk: User) -> None:
    sign_in(tablet, factories.UserFactory(shop=clerk.shop, owner=True))
    tablet.goto("/office/specs/")
    box, models = tablet.locator("#model-search"), tablet.locator("#models")
    for typed, there, gone in (("plume", "Plume 130", "Tor 36"), ("tor", "Tor 36", "Plume 130")) * 2:
        type_over(box, typed)
        expect(models).to_contain_text(there)
        expect(models).not_to_contain_text(gone)
    type_over(box, "zzz")
    expect(models).to_contain_text("No model has that")
    type_over(box, "")
    expect(models).to_contain_text("Plume 130")
    type_over(box, "tor")
    expect(tablet).to_have_url(re.compile("q=tor$"))
    models.get_by_role("link", name=re.compile("Tor 36")).click()
    tablet.go_back()
    expect(models).not_to_contain_text("Plume 130")
    expect(box).to_have_value("tor")
    type_over(box, "plume")
    expect(models).not_to_contain_text("Tor 36")


@pytest.mark.parametrize("role", ["counter", "mechanic"])
def test_a_part_is_looked_for_again_and_added_to_a_ticket(
    tablet: Page, sign_in: SignIn, clerk: User, role: str
) -> None:
    user = clerk if role == "counter" else factories.UserFactory(shop=clerk.shop, mechanic=True)
    ticket = factories.TicketFactory(shop=clerk.shop, state="on_the_bench")
    for words in ("Foot seal", "Top cap ring"):
        factories.StockItemFactory(shop=clerk.shop, part=factories.PartFactory(description=words))
    sign_in(tablet, user)
    tablet.goto(f"/bench/{ticket.number}/parts/")
    found = tablet.locator("section", has=tablet.locator("#find-title"))
    for typed, there, gone in (("foot", "Foot seal", "Top cap ring"), ("top cap", "Top cap ring", "Foot seal")) * 2:
        type_over(tablet.locator("#part-q"), typed)
        tablet.locator("#part-q").press("Enter")
        expect(found).to_contain_text(there)
        expect(found).not_to_contain_text(gone)
    found.get_by_role("button", name="Add").click()
    lines = tablet.locator("#part-lines")
    expect(lines).to_contain_text("Top cap ring")
    for amount in ("2", "3"):  # twice: the list stands for itself after its first answer
        lines.get_by_label("Quantity of Top cap ring").fill(amount)
        lines.get_by_role("button", name="Change").click()
        expect(lines).to_contain_text(f"{amount} ×")
    for press in ("Remove", "Needed again", "Remove", "Needed again"):
        lines.get_by_role("button", name=press).click()
    expect(lines.get_by_role("button", name="Remove")).to_be_visible()
    tablet.go_back()
    type_over(tablet.locator("#part-q"), "foot")
    tablet.locator("#part-q").press("Enter")
    expect(found).to_contain_text("Foot seal")


@pytest.mark.parametrize(("address", "there", "gone"), [
    ("/counter/customers/", ("quar", "Petra Quarrington"), ("thistle", "Ilan Thistlewood")),
    ("/stores/", ("foot", "Foot seal"), ("top cap", "Top cap ring")),
    ("/office/privacy/", ("quar", "Petra Quarrington"), ("thistle", "Ilan Thistlewood")),
])  # fmt: skip
def test_a_list_is_searched_again_and_after_going_back(
    tablet: Page, sign_in: SignIn, clerk: User, address: str, there: tuple[str, str], gone: tuple[str, str]
) -> None:
    for words in ("Foot seal", "Top cap ring"):
        item: StockItem = factories.StockItemFactory(shop=clerk.shop, part=factories.PartFactory(description=words))
        assert item.part.description == words
    sign_in(tablet, factories.UserFactory(shop=clerk.shop, owner=True))
    tablet.goto(address)
    main, box = tablet.locator("main"), tablet.locator("main input[type=search]")
    for (typed, shown), (_, hidden) in ((there, gone), (gone, there)) * 2:
        type_over(box, typed)
        box.press("Enter")
        expect(main).to_contain_text(shown)
        expect(main).not_to_contain_text(hidden)
    tablet.go_back()
    expect(box).to_have_value(there[0])
    expect(main).to_contain_text(there[1])


def test_the_new_owner_is_looked_for_again(tablet: Page, sign_in: SignIn, clerk: User) -> None:
    unit = Customer.objects.get(name="Petra Quarrington").units.get()
    factories.CustomerFactory(shop=clerk.shop, name="Jana Novák")
    sign_in(tablet, clerk)
    tablet.goto(f"/counter/units/{unit.pk}/give/")
    main, box = tablet.locator("main"), tablet.locator("#owner-text")
    for typed, shown, hidden in (("novak", "Jana Novák", "Ilan"), ("thistle", "Ilan Thistlewood", "Jana")) * 2:
        type_over(box, typed)
        box.press("Enter")
        expect(main).to_contain_text(shown)
        expect(main).not_to_contain_text(hidden)
    tablet.get_by_role("button", name="Theirs now").click()
    expect(tablet.get_by_text("now belongs to Ilan Thistlewood")).to_be_visible()
    assert unit.changes_of_owner.get().on == timezone.localdate()


def test_a_sum_follows_every_change_and_going_back(tablet: Page, sign_in: SignIn, clerk: User) -> None:
    sign_in(tablet, clerk)
    tablet.goto("/sums/units/")
    value, answer = tablet.locator("[name=value]"), tablet.locator("#answer")
    for typed, shown in (("82 psi", "5.6"), ("100 psi", "6.8")) * 2:
        type_over(value, typed)
        value.press("Tab")
        expect(answer).to_contain_text(shown)
    type_over(value, "nonsense")
    value.press("Tab")
    expect(tablet.locator(".field__error")).to_have_count(1)
    type_over(value, "82 psi")
    value.press("Tab")
    expect(answer).to_contain_text("5.6")
    expect(tablet.locator(".field__error")).to_have_count(0)
    tablet.goto("/counter/")
    tablet.go_back()
    expect(answer).to_contain_text("5.6")
    expect(value).to_have_value("82 psi")
