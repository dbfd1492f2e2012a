"""A Saturday at the counter over its own pages: fourteen customers in and out, with all that goes wrong on such a day.

At the end takings, receipts and tickets are added three ways. What each ticket comes to is reckoned here with whole
numbers from the rule of EN 16931 (BR-CO-17: on the sum of each rate, rounded once), apart from the decimals of the
code.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import uuid
from collections import Counter
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories import PartLineFactory, ShopFactory, UserFactory
from tests.squeezed import squeezed
from workshop.models import Receipt, Shop, TaxRules, Ticket, User
from workshop.tickets.models import PartLine

pytestmark = pytest.mark.django_db
BACKEND = "workshop.staff.backend.StaffBackend"
LABOUR_PERCENT, PARTS_PERCENT = 20, 10
OPENING = 150_00
CUSTOMERS = (
    "Adela", "Brun", "Cato", "Dorle", "Emmo", "Fenja", "Gesine", "Hanno", "Iddo", "Jonte", "Kaja", "Lieve", "Marthe",
    "Nelke",
)  # fmt: skip


def money(cents: int) -> str:
    return f"{Decimal(cents) / 100:.2f}"


def with_tax(labour: int, parts: int = 0) -> int:
    """In cents; half a cent is rounded up."""
    return sum(net + (net * percent * 2 + 100) // 200 for net, percent in
               ((labour, LABOUR_PERCENT), (parts, PARTS_PERCENT)))  # fmt: skip


class Desk:
    """What a clerk does, by the forms of the pages; in the drawer and on the card machine lies what `till` says."""

    def __init__(self, client: Client, shop: Shop) -> None:
        self.client, self.shop = client, shop
        self.till: Counter[str] = Counter()
        self.tickets: dict[int, int] = {}
        """What each ticket that was charged comes to in the end, by its number, in cents."""

    def page(self, name: str, *args: int, **asked: Any) -> str:
        answer = self.client.get(reverse(name, args=args), asked)
        assert answer.status_code == 200, name
        return squeezed(answer.content.decode())

    def send(self, name: str, *args: int, **typed: Any) -> Any:
        return self.client.post(reverse(name, args=args), typed)

    def done(self, name: str, *args: int, **typed: Any) -> str:
        """Sent, and taken; returns where it leads."""
        answer = self.send(name, *args, **typed)
        assert answer.status_code == 302, squeezed(answer.content.decode())
        return str(answer["Location"])

    def ticket(self, number: int) -> Ticket:
        return Ticket.objects.select_related("customer", "unit").get(shop=self.shop, number=number)

    def book(self, name: str, what: str = "Harrowgate Lapwing", **more: Any) -> int:
        """A new customer, unless `customer` or `beside` says who; returns the ticket's number."""
        phone = f"0555 010 2{CUSTOMERS.index(name):02}"
        who = (
            {}
            if {"customer", "beside"} & set(more)
            else {"customer-name": f"{name} Sandvoort", "customer-phone": phone}
        )
        day = timezone.localdate() + dt.timedelta(days=3)
        typed = {
            "client_id": str(uuid.uuid4()), "unit": "new", "unit-kind": "fork", "unit-described_as": what,
            "bike": "none", "ticket-complaint_words": "Knocks", "ticket-promised_on": day.isoformat(),
            "ticket-price_ceiling": "400", **who, **more,
        }  # fmt: skip
        self.done("counter:book_in", **typed)
        return Ticket.objects.filter(shop=self.shop).latest("pk").number

    def move(self, number: int, to: str, reason: str = "") -> None:
        self.done("counter:move", number, to=to, reason=reason, seen_version=self.ticket(number).version)

    def work(self, number: int, labour: int, *parts: int, off: int = 0) -> None:
        """On the bench, done and priced in cents, and ready."""
        self.move(number, "on_the_bench")
        self.done("charges:add_price", number, words="Lowers", price=money(labour))
        for price in parts:
            PartLineFactory(
                ticket=self.ticket(number), unit_price=Decimal(price) / 100, quantity=1, status=PartLine.Status.USED
            )
        if off:
            self.done("charges:add_discount", number, amount=money(off), off="labour", reason="Waited long")
        self.move(number, "ready")
        self.tickets[number] = with_tax(labour - off, sum(parts))

    def caller(self, name: str, number: int, *words: str) -> None:
        """“Is it ready?”: found by the first name and by the end of the phone, each answered with these words."""
        ticket = self.ticket(number)
        for typed in (name.lower(), ticket.customer.phone[-4:]):
            found = self.client.get(reverse("counter:search"), {"q": typed}, headers={"HX-Request": "true"})
            assert f"t={number}&amp;" in found.content.decode(), (typed, number)
        told = self.page("counter:standing", t=[number])
        for word in (ticket.customer.name, "promised", *words):
            assert word in told, (name, word)

    def hand_back(self, number: int, **paid: Any) -> str:
        """Handed back with the settings as the page fills them; returns the page that follows."""
        typed = {
            "seen_version": self.ticket(number).version, "seen_settings_version": 0, "client_id": str(uuid.uuid4()),
            "with_receipt": "on", **paid,
        }  # fmt: skip
        self.done("counter:hand_back", number, **typed)
        return self.page("counter:payments", number)

    def take(self, number: int, kind: str, cents: int) -> None:
        self.done("counter:take_payment", number, kind=kind, amount=money(cents), client_id=str(uuid.uuid4()))
        self.till[kind] += cents

    def pay_all(self, number: int, kind: str) -> str:
        """Ready, asked after, and paid in one press."""
        ticket, due = self.ticket(number), self.tickets[number]
        self.caller(ticket.customer.name.split()[0], number, "Ready", money(due))
        assert f"Due: {money(due)}" in self.page("counter:hand_back", number)
        self.till[kind] += due
        return self.hand_back(number, pays_by=kind, seen_due=money(due))


@pytest.fixture
def shop() -> Shop:
    made: Shop = ShopFactory()
    TaxRules.objects.create(shop=made, labour_percent=LABOUR_PERCENT, parts_percent=PARTS_PERCENT)
    return made


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user, backend=BACKEND)
    return client


@pytest.fixture
def desk(shop: Shop) -> Desk:
    return Desk(signed_in(UserFactory(shop=shop)), shop)


@pytest.fixture
def owner(shop: Shop) -> Desk:
    return Desk(signed_in(UserFactory(shop=shop, owner=True)), shop)


def paid_at_once(desk: Desk) -> None:
    """Cash with change, a card, two ways, parts at another rate, and a line of goodwill."""
    adela, brun, marthe = desk.book("Adela"), desk.book("Brun"), desk.book("Marthe")
    lieve, kaja = desk.book("Lieve"), desk.book("Kaja")
    desk.caller("Adela", adela, "Booked in", "Nothing charged so far.")
    desk.work(adela, 79_95)
    desk.caller("Adela", adela, "Ready", money(95_94))
    assert "Give 4.06 EUR change." in desk.hand_back(adela, pays_by="cash", given="100", seen_due="95.94")
    desk.till["cash"] += 95_94
    desk.work(brun, 115_00)
    desk.pay_all(brun, "card")
    desk.work(marthe, 33_33, 12_49, 1)
    desk.caller("Marthe", marthe, money(desk.tickets[marthe]))
    desk.hand_back(marthe, pays_by="cash", amount="20", rest_by="card")
    desk.till.update({"cash": 20_00, "card": desk.tickets[marthe] - 20_00})
    desk.work(lieve, 85_05, 24_50, 3_30)
    desk.pay_all(lieve, "transfer")
    desk.work(kaja, 60_00, off=12_50)
    desk.pay_all(kaja, "cash")


def two_units_of_a_visit(desk: Desk) -> None:
    """Handed over in one act, paid in one, on one receipt."""
    fork = desk.book("Cato", **{"and_more": "1", "visit-price_ceiling": "200"})
    shock = desk.book("Cato", "Harrowgate Teal", beside=fork, **{"unit-kind": "shock"})
    assert {desk.ticket(fork).visit_id} == {desk.ticket(shock).visit_id} != {None}
    desk.work(fork, 92_10)
    desk.work(shock, 41_35, 8_88)
    desk.caller("Cato", fork, money(desk.tickets[fork]))
    desk.caller("Cato", shock, money(desk.tickets[shock]))
    both = desk.tickets[fork] + desk.tickets[shock]
    page = desk.client.get(reverse("counter:hand_back", args=[fork]))
    assert f"Due: {money(both)}" in page.content.decode()
    desk.till["cash"] += both
    said = desk.hand_back(fork, pays_by="cash", given="180", along=page.context["paid_form"]["along"].value())
    assert f"Handed back with it: ticket {shock}. Give {money(180_00 - both)} EUR change." in said
    (receipt,) = Receipt.objects.filter(covers__ticket__visit=desk.ticket(fork).visit).distinct()
    assert (receipt.covers.count(), receipt.gross) == (2, Decimal(both) / 100)


def deposit_part_payment_and_parcel(desk: Desk) -> None:
    dorle, emmo = desk.book("Dorle"), desk.book("Emmo")
    desk.take(dorle, "transfer", 50_00)
    desk.work(dorle, 110_40)
    due = desk.tickets[dorle] - 50_00
    assert f"Due: {money(due)}" in desk.page("counter:hand_back", dorle)
    desk.caller("Dorle", dorle, "Ready")
    desk.hand_back(dorle, pays_by="card")
    desk.till["card"] += due

    desk.work(emmo, 70_00)
    desk.caller("Emmo", emmo, "Ready")
    desk.hand_back(emmo, pays_by="cash", amount="30", rest_by="account")
    desk.till["cash"] += 30_00
    refused = desk.send("counter:take_payment", emmo, kind="card", amount="54.01", client_id=str(uuid.uuid4()))
    assert (refused.status_code, "more than is due" in refused.content.decode()) == (422, True)
    desk.take(emmo, "card", 40_00)

    parcel: dict[str, Any] = {
        "visit-came_by": "parcel",
        "visit-came_carrier": "Swiftwheel",
        "visit-came_number": "00 12 AX",
        "visit-shelf": "B4",
        "visit-loose": ["axle"],
    }
    fenja = desk.book("Fenja", **parcel)
    desk.work(fenja, 88_00)
    visit = desk.ticket(fenja).visit
    assert visit is not None
    desk.done(
        "counter:visit", fenja, seen_version=visit.version, loose="axle", shelf="B4", came_by="parcel",
        came_carrier="Swiftwheel", came_number="00 12 AX", goes_by="parcel", goes_carrier="Swiftwheel",
        goes_number="SW 77-B",
    )  # fmt: skip
    assert "Swiftwheel, SW 77-B" in desk.page("counter:ticket", fenja)
    desk.caller("Fenja", fenja, "Ready", money(desk.tickets[fenja]))
    desk.hand_back(fenja, pays_by="account")


def wrong_row_and_wrong_fork(desk: Desk) -> None:
    gesine, hanno = desk.book("Gesine"), desk.book("Hanno")
    desk.work(gesine, 45_00)
    desk.work(hanno, 64_90)
    desk.caller("Gesine", gesine, "Ready")
    desk.hand_back(gesine, pays_by="account", with_receipt="")  # the wrong row
    desk.done("counter:undo_hand_back", gesine, seen_version=desk.ticket(gesine).version)
    desk.caller("Gesine", gesine, "Ready", money(desk.tickets[gesine]))
    desk.pay_all(hanno, "card")
    desk.pay_all(gesine, "cash")

    earlier = desk.book("Iddo", "Harrowgate Plover")
    desk.move(earlier, "called_off", "Came back too soon")
    desk.hand_back(earlier, with_receipt="")
    right = desk.ticket(earlier)
    wrong = desk.book("Iddo", "Harrowgate Heron", customer=right.customer.pk)
    desk.done(
        "counter:rightly", wrong, customer=right.customer.pk, unit=right.unit.pk, bike="",
        reason="It was the other fork", seen_version=desk.ticket(wrong).version,
    )  # fmt: skip
    assert desk.ticket(wrong).unit == right.unit
    desk.work(wrong, 51_25)
    desk.caller("Iddo", wrong, "Harrowgate Plover", money(desk.tickets[wrong]))
    desk.pay_all(wrong, "card")


def called_off_and_opened_again(desk: Desk, owner: Desk) -> None:
    jonte = desk.book("Jonte")
    desk.take(jonte, "cash", 40_00)
    desk.caller("Jonte", jonte, "Booked in")
    desk.move(jonte, "called_off", "Sold the bike")
    assert "To pay back: 40.00" in desk.page("counter:hand_back", jonte)
    refused = owner.send("counter:pay_back", jonte, kind="cash", amount="40.01", reason="All", client_id=uuid.uuid4())
    assert (refused.status_code, "more than was paid" in refused.content.decode()) == (422, True)
    desk.hand_back(jonte, back_by="cash")
    desk.till["cash"] -= 40_00

    nelke = desk.book("Nelke")
    desk.work(nelke, 99_99)
    dear = desk.tickets[nelke]
    desk.pay_all(nelke, "card")
    again = owner.done(
        "counter:open_again", nelke, reason="Goodwill forgotten", seen_version=desk.ticket(nelke).version
    )
    assert again == reverse("counter:payments", args=[nelke])
    desk.done("charges:add_discount", nelke, amount="20", off="labour", reason="Promised on the phone")
    desk.tickets[nelke] = with_tax(79_99)
    back = dear - desk.tickets[nelke]
    assert f"To pay back: {money(back)}" in desk.page("counter:hand_back", nelke)
    desk.hand_back(nelke, back_by="cash")
    desk.till["cash"] -= back


def rows_of(owner: Desk, what: str) -> list[dict[str, str]]:
    answer = owner.client.get(reverse("counter:month_books", args=[what]))
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))


def test_a_saturday(desk: Desk, owner: Desk, shop: Shop) -> None:
    assert desk.page("counter:today").count("autofocus") == 1
    paid_at_once(desk)
    two_units_of_a_visit(desk)
    deposit_part_payment_and_parcel(desk)
    wrong_row_and_wrong_fork(desk)
    called_off_and_opened_again(desk, owner)
    assert Ticket.objects.filter(shop=shop).values("customer").distinct().count() == len(CUSTOMERS)
    assert not Ticket.objects.open().filter(shop=shop).exists()

    day = owner.client.get(reverse("counter:takings")).context["takings"]
    still_open = owner.client.get(reverse("counter:open_sums")).context
    tickets = Decimal(sum(desk.tickets.values())) / 100
    # By the tickets as they were priced, by the receipts and credit notes, and by the money with what is still open.
    assert day.receipted == tickets
    assert day.money + still_open["open_total"] == tickets
    assert still_open["held_total"] == 0
    for what in ("receipts", "rates"):
        assert sum((Decimal(row["gross"]) for row in rows_of(owner, what)), Decimal(0)) == tickets
    assert {row.label: row.sum * 100 for row in day.kinds} == {
        "Cash": desk.till["cash"], "Card": desk.till["card"], "Bank transfer": desk.till["transfer"],
    }  # fmt: skip
    assert {one.ticket.customer.name.split()[0]: one.amount * 100 for one in still_open["open_sums"]} == {
        "Emmo": 14_00, "Fenja": with_tax(88_00),
    }  # fmt: skip
    numbers = Receipt.objects.filter(shop=shop, kind="receipt").order_by("pk").values_list("number", flat=True)
    assert list(numbers) == list(range(1, len(numbers) + 1))

    typed = {"opening": money(OPENING), "seen_cash": money(desk.till["cash"]), "seen_count": 0, "taken_out": "100"}
    owner.done("counter:count_drawer", counted=money(OPENING + desk.till["cash"]), **typed)
    assert owner.client.get(reverse("counter:takings")).context["takings"].counted.difference == 0
