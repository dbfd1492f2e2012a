"""Labour, the customer's answer, the limit it sets, and the charges in the end."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from tests.at_once import at_once
from tests.factories import DocumentFactory, PartFactory, PartLineFactory, TicketFactory, UserFactory
from tests.logbook import said
from workshop.charges.agreeing import EstimateChanged, agreed_limit, over_agreed, record_answer
from workshop.charges.books import COLUMNS, charges_csv
from workshop.charges.labour import charge_minutes, charge_service, drop_labour, planned_minutes
from workshop.charges.models import Agreement, FinalCharges, LabourLine, TaxRules
from workshop.charges.prices import service_prices, set_tax_rules
from workshop.charges.ticket_charges import charges_of, standing_charges
from workshop.documents.estimate import gather_estimate
from workshop.issued.models import Document
from workshop.models import Ticket
from workshop.staff.models import Shop
from workshop.tickets.settings_record import Settings
from workshop.web.versions import StaleVersion
from workshop.work.hand_back import hand_back
from workshop.work.moves import AgreementMissing, move

pytestmark = pytest.mark.django_db
PRICES = {("fork", "lowers"): Decimal("75.00"), ("fork", "full"): Decimal("140.00")}


def set_rules(shop: Shop, seen: int = 0, **changes: object) -> TaxRules:
    rules = {
        "name": "VAT", "labour_percent": Decimal(20), "parts_percent": Decimal(20), "prices_include_tax": False,
        "rounding": "sum", "prices": PRICES,
    } | changes  # fmt: skip
    return set_tax_rules(shop=shop, seen_version=seen, **rules)  # type: ignore[arg-type]


@pytest.fixture
def ticket() -> Ticket:
    """On the bench, with prices and 20 % on everything."""
    made = TicketFactory(state="on_the_bench")
    set_rules(made.shop)
    return made


def estimate_of(ticket: Ticket, revision: int = 1) -> Document:
    """The row of an estimate of the ticket's charges now; the PDF is not made."""
    data = gather_estimate(ticket, "")
    return DocumentFactory(
        ticket=ticket, kind="estimate", revision=revision, data=data, data_digest=f"{ticket.pk:060x}{revision:04x}"
    )


def say(document: Document, agreed: bool, **changes: object) -> Agreement:
    fields = {"how": "phone", "said_by": "Odile Novák", "by": None, "seen_digest": document.data_digest} | changes
    return record_answer(document=document, agreed=agreed, **fields)  # type: ignore[arg-type]


class TestLabour:
    def test_a_service_is_charged_at_its_price(self, ticket: Ticket) -> None:
        line = charge_service(ticket=ticket, level="lowers", by=None)
        assert (line.words, line.price, line.minutes) == ("Lowers service", Decimal("75.00"), None)
        assert "Labour added: Lowers service, 75.00 EUR" in said(ticket.events.first())

    def test_minutes_are_charged_at_the_rate_of_the_day(self, ticket: Ticket) -> None:
        line = charge_minutes(ticket=ticket, words="Bushings reamed", minutes=50, by=None)
        Shop.objects.update(labour_rate_hour=90)
        line.refresh_from_db()
        assert (line.rate_hour, line.price) == (Decimal("60.00"), Decimal("50.00"))

    def test_a_service_is_charged_once(self, ticket: Ticket) -> None:
        line = charge_service(ticket=ticket, level="lowers", by=None)
        with pytest.raises(ValidationError, match="on this ticket already"):
            charge_service(ticket=ticket, level="lowers", by=None)
        drop_labour(line=line, by=None)
        charge_service(ticket=ticket, level="lowers", by=None)

    def test_a_service_without_a_price_is_refused(self, ticket: Ticket) -> None:
        with pytest.raises(ValidationError, match="no price for a spring service of a fork"):
            charge_service(ticket=ticket, level="spring", by=None)

    @pytest.mark.parametrize("minutes", [0, -5, 1441])
    def test_impossible_minutes_are_refused(self, ticket: Ticket, minutes: int) -> None:
        with pytest.raises(ValidationError, match="minutes from 1 to 1,440"):
            charge_minutes(ticket=ticket, words="Work", minutes=minutes, by=None)

    def test_a_ticket_handed_back_keeps_its_charges(self, ticket: Ticket) -> None:
        line = charge_service(ticket=ticket, level="lowers", by=None)
        Ticket.objects.update(state="handed_back")
        for change in (
            lambda: charge_minutes(ticket=ticket, words="Late", minutes=5, by=None),
            lambda: drop_labour(line=line, by=None),
        ):
            with pytest.raises(ValidationError, match="its charges stand"):
                change()

    def test_nothing_was_ticked_means_no_minutes(self, ticket: Ticket) -> None:
        assert planned_minutes(ticket) == 0


class TestRules:
    @pytest.mark.parametrize("rate", [Decimal(200), Decimal("100.01"), Decimal(-1)])
    def test_an_impossible_tax_rate_is_refused_and_nothing_kept(self, ticket: Ticket, rate: Decimal) -> None:
        with pytest.raises(ValidationError) as refused:
            set_rules(ticket.shop, seen=1, labour_percent=rate, prices={("fork", "lowers"): Decimal(1)})
        assert "labour_percent" in refused.value.message_dict
        assert TaxRules.objects.get().version == 1
        assert service_prices(ticket.shop) == PRICES

    def test_the_database_refuses_it_too(self, ticket: Ticket) -> None:
        with pytest.raises(IntegrityError), transaction.atomic():
            TaxRules.objects.update(parts_percent=200)

    def test_a_price_can_be_taken_off_the_list(self, ticket: Ticket) -> None:
        set_rules(ticket.shop, seen=1, prices={("fork", "full"): None})
        assert service_prices(ticket.shop) == {("fork", "lowers"): Decimal("75.00")}

    def test_the_slower_of_two_owners_is_told(self, ticket: Ticket) -> None:
        with pytest.raises(StaleVersion):
            set_rules(ticket.shop, seen=0)

    def test_labour_and_parts_make_the_charges(self, ticket: Ticket) -> None:
        charge_service(ticket=ticket, level="lowers", by=None)
        PartLineFactory(ticket=ticket, quantity=2, unit_price=Decimal("11.50"))
        PartLineFactory(ticket=ticket, quantity=1, unit_price=Decimal("99.00"), status="dropped")
        charges = charges_of(ticket)
        assert (charges.net, charges.tax, charges.gross) == (Decimal("98.00"), Decimal("19.60"), Decimal("117.60"))

    def test_a_ready_ticket_is_charged_what_was_used(self, ticket: Ticket) -> None:
        PartLineFactory(ticket=ticket, unit_price=Decimal(10), status="used")
        PartLineFactory(ticket=ticket, unit_price=Decimal(99))
        ticket.state = "ready"
        assert charges_of(ticket).net == Decimal(10)


class TestAnswer:
    def test_a_yes_keeps_who_when_how_and_to_what(self, ticket: Ticket) -> None:
        charge_service(ticket=ticket, level="lowers", by=None)
        clerk = UserFactory(shop=ticket.shop)
        document = estimate_of(ticket)
        answer = say(document, True, by=clerk, note="But keep the old wipers")
        assert (answer.amount, answer.data_digest, answer.document) == (
            Decimal("90.00"),
            document.data_digest,
            document,
        )
        assert (answer.by, answer.how, answer.said_by) == (clerk, "phone", "Odile Novák")
        assert said(ticket.events.first()) == "Customer agreed to estimate 1, 90.00 EUR, by phone"

    def test_the_same_answer_twice_is_kept_once(self, ticket: Ticket) -> None:
        document = estimate_of(ticket)
        assert say(document, True) == say(document, True)
        say(document, False)
        assert Agreement.objects.count() == 2

    def test_an_answer_to_an_older_estimate_is_not_kept(self, ticket: Ticket) -> None:
        old = estimate_of(ticket)
        estimate_of(ticket, revision=2)
        with pytest.raises(EstimateChanged, match="newer estimate"):
            say(old, True)
        assert not Agreement.objects.exists()

    def test_an_answer_to_other_data_is_not_kept(self, ticket: Ticket) -> None:
        with pytest.raises(EstimateChanged):
            say(estimate_of(ticket), True, seen_digest="0" * 64)

    def test_who_answered_must_be_said(self, ticket: Ticket) -> None:
        with pytest.raises(ValidationError):
            say(estimate_of(ticket), True, said_by=" ")

    def test_a_closed_ticket_takes_no_answer(self, ticket: Ticket) -> None:
        document = estimate_of(ticket)
        Ticket.objects.update(state="handed_back")
        with pytest.raises(ValidationError, match="closed"):
            say(document, True)


class TestLimit:
    def answers(self, *said: tuple[int, bool, str]) -> list[Agreement]:
        return [
            Agreement(pk=number, document_id=document, agreed=agreed, amount=Decimal(amount))
            for number, (document, agreed, amount) in enumerate(said)
        ]

    @pytest.mark.parametrize(
        ("ceiling", "said", "limit"),
        [
            (None, [], None),
            ("180", [], "180"),
            ("180", [(1, True, "250")], "250"),
            ("180", [(1, True, "120")], "180"),
            (None, [(1, True, "120")], "120"),
            (None, [(1, True, "120"), (2, False, "300")], "120"),
            (None, [(1, True, "120"), (2, True, "300")], "300"),
            (None, [(1, True, "300"), (2, True, "120")], "120"),
            (None, [(1, True, "120"), (1, False, "120")], "0"),
            ("50", [(1, False, "120")], "50"),
            (None, [(1, False, "120")], "0"),
        ],
    )
    def test_limit(self, ceiling: str | None, said: list[tuple[int, bool, str]], limit: str | None) -> None:
        known = agreed_limit(None if ceiling is None else Decimal(ceiling), self.answers(*said))
        assert known == (None if limit is None else Decimal(limit))


class TestReady:
    def ready(self, ticket: Ticket) -> None:
        ticket.refresh_from_db()
        move(ticket=ticket, to_state="ready", by=None, seen_version=ticket.version)

    def test_within_the_ceiling_it_is_ready(self, ticket: Ticket) -> None:
        Ticket.objects.update(price_ceiling=Decimal("90.00"))
        charge_service(ticket=ticket, level="lowers", by=None)
        self.ready(ticket)
        assert ticket.state == "ready"

    def test_extra_work_is_not_ready_without_a_yes(self, ticket: Ticket) -> None:
        Ticket.objects.update(price_ceiling=Decimal("89.99"))
        charge_service(ticket=ticket, level="lowers", by=None)
        with pytest.raises(AgreementMissing, match=r"come to 90\.00 EUR, the customer agreed to 89\.99 EUR"):
            self.ready(ticket)
        ticket.refresh_from_db()
        assert (ticket.state, ticket.version) == ("on_the_bench", 1)
        say(estimate_of(ticket), True)
        self.ready(ticket)

    def test_an_owner_with_a_reason_cannot_go_round_it(self, ticket: Ticket) -> None:
        Ticket.objects.update(price_ceiling=Decimal(1))
        charge_service(ticket=ticket, level="lowers", by=None)
        ticket.refresh_from_db()
        owner = UserFactory(shop=ticket.shop, owner=True)
        with pytest.raises(AgreementMissing):
            move(ticket=ticket, to_state="ready", by=owner, seen_version=1, reason="I say so", without_proof=True)

    def test_a_no_leaves_the_ticket_where_it_is(self, ticket: Ticket) -> None:
        charge_service(ticket=ticket, level="lowers", by=None)
        say(estimate_of(ticket), False)
        with pytest.raises(AgreementMissing):
            self.ready(ticket)

    def test_parts_still_needed_count(self, ticket: Ticket) -> None:
        Ticket.objects.update(price_ceiling=Decimal(10))
        PartLineFactory(ticket=ticket, unit_price=Decimal(99))
        ticket.refresh_from_db()
        assert over_agreed(ticket) is not None
        assert over_agreed(ticket, used_only=True) is None

    def test_what_was_added_after_it_was_ready_is_asked_for_before_hand_back(self, ticket: Ticket) -> None:
        Ticket.objects.update(price_ceiling=Decimal(10))
        self.ready(ticket)
        charge_service(ticket=ticket, level="lowers", by=None)
        with pytest.raises(AgreementMissing):
            hand_back(ticket=ticket, by=None, seen_version=2, settings=Settings())
        assert not FinalCharges.objects.exists()


def handed_back(ticket: Ticket) -> FinalCharges:
    ticket.refresh_from_db()
    Ticket.objects.filter(pk=ticket.pk).update(state="ready")
    ticket.refresh_from_db()
    hand_back(ticket=ticket, by=None, seen_version=ticket.version, settings=Settings())
    return FinalCharges.objects.get(ticket=ticket)


class TestFinalCharges:
    def test_what_was_charged_outlives_a_change_of_tax(self, ticket: Ticket) -> None:
        charge_service(ticket=ticket, level="lowers", by=None)
        PartLineFactory(ticket=ticket, quantity=3, unit_price=Decimal("0.35"), status="used")
        PartLineFactory(ticket=ticket, unit_price=Decimal(50), status="dropped")
        final = handed_back(ticket)
        set_rules(ticket.shop, seen=1, labour_percent=Decimal(5), parts_percent=Decimal(5))
        assert (final.net, final.tax, final.gross) == (Decimal("76.05"), Decimal("15.21"), Decimal("91.26"))
        charges, rules = standing_charges(ticket)
        assert (charges.gross, rules.name, len(charges.lines)) == (Decimal("91.26"), "VAT", 2)

    def test_the_books_hold_each_rate_to_the_cent(self, ticket: Ticket) -> None:
        set_rules(ticket.shop, seen=1, parts_percent=Decimal("5.5"))
        charge_service(ticket=ticket, level="lowers", by=None)
        PartLineFactory(ticket=ticket, unit_price=Decimal("12.00"), status="used")
        final = handed_back(ticket)
        today = timezone.localdate()
        rows = list(csv.DictReader(io.StringIO(charges_csv(ticket.shop, today, today).decode("utf-8-sig"))))
        assert [(row["tax_percent"], row["net"], row["tax"], row["gross"]) for row in rows] == [
            ("5.50", "12.00", "0.66", "12.66"),
            ("20.00", "75.00", "15.00", "90.00"),
        ]
        assert sum(Decimal(row["gross"]) for row in rows) == final.gross
        assert rows[0]["ticket"] == str(ticket.number)

    def test_no_name_is_run_as_a_formula(self, ticket: Ticket) -> None:
        ticket.customer.name = "=HYPERLINK(0)"
        ticket.customer.save()
        charge_service(ticket=ticket, level="lowers", by=None)
        handed_back(ticket)
        today = timezone.localdate()
        assert "'=HYPERLINK(0)" in charges_csv(ticket.shop, today, today).decode()

    def test_other_days_and_other_shops_are_left_out(self, ticket: Ticket) -> None:
        charge_service(ticket=ticket, level="lowers", by=None)
        handed_back(ticket)
        today = timezone.localdate()
        yesterday = today - dt.timedelta(days=1)
        for shop, day in ((ticket.shop, yesterday), (TicketFactory().shop, today)):
            assert charges_csv(shop, day, day).decode("utf-8-sig").strip() == ",".join(COLUMNS)


@pytest.mark.django_db(transaction=True)
class TestAtOnce:
    def test_two_presses_of_a_service_charge_it_once(self) -> None:
        ticket = TicketFactory(state="on_the_bench")
        set_rules(ticket.shop)

        def press(_: int) -> str:
            try:
                charge_service(ticket=Ticket.objects.get(pk=ticket.pk), level="lowers", by=None)
            except ValidationError:
                return "told"
            return "charged"

        assert sorted(at_once(press)) == ["charged"] + ["told"] * 5
        assert LabourLine.objects.count() == 1

    def test_an_answer_sent_many_times_at_once_is_kept_once(self) -> None:
        document = estimate_of(TicketFactory(state="on_the_bench"))
        answers: Callable[[int], str] = lambda _: str(say(Document.objects.get(pk=document.pk), True).pk)  # noqa: E731
        assert len(set(at_once(answers))) == 1
        assert Agreement.objects.count() == 1


def test_a_part_at_half_a_cent_is_charged_as_it_is_shown() -> None:
    line = PartLineFactory(part=PartFactory(measure="ml"), quantity=Decimal("2.5"), unit_price=Decimal("0.05"))
    assert line.total == Decimal("0.13")
