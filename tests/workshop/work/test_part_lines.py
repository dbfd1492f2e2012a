"""Parts on a ticket: where they come from, what they cost, and whether the stores have them."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from specs.models import Part
from tests.factories import (
    KitLineFactory,
    OilFactory,
    PartFactory,
    PartLineFactory,
    ServiceKitFactory,
    SpecValueFactory,
    StepFactory,
    StockItemFactory,
    StockMovementFactory,
    TicketFactory,
    UserFactory,
)
from tests.logbook import changed, said
from workshop.documents.parts_block import availability
from workshop.models import StockMovement
from workshop.stock.moving import NotEnoughInStock, level_of
from workshop.stock.ordering import place_order
from workshop.tickets.models import PartLine, Ticket
from workshop.work.adding_parts import add_by_hand, add_from_answer, add_from_kit, is_of_role
from workshop.work.part_lines import (
    KeptForOthers,
    PartLineRefused,
    QuantityChanged,
    drop_lines_of_step,
    drop_part_line,
    set_quantity,
    take_up_again,
    use_part_line,
)
from workshop.work.parts_shown import lines_of, total_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def ticket() -> Ticket:
    return TicketFactory()


def stocked(ticket: Ticket, quantity: int, **part: object) -> Part:
    item = StockItemFactory(shop=ticket.shop, part=PartFactory(**part))
    if quantity:
        StockMovementFactory(item=item, quantity=Decimal(quantity))
    return item.part


def kit(ticket: Ticket, *parts: Part, quantity: int = 2) -> None:
    service_kit = ServiceKitFactory(model=ticket.unit.model)
    for part in parts:
        KitLineFactory(kit=service_kit, part=part, quantity=Decimal(quantity))


class TestAdding:
    def test_a_line_keeps_the_price_of_the_day(self, ticket: Ticket) -> None:
        part = stocked(ticket, 5)
        line = add_by_hand(ticket=ticket, part=part, quantity=Decimal(2), by=None)
        part.stock_items.update(price=Decimal(99))
        line.refresh_from_db()
        assert (line.unit_price, line.total) == (Decimal("24.50"), Decimal("49.00"))
        assert "Parts added: 2 ×" in said(ticket.events.first())

    def test_a_part_in_words_has_no_price(self, ticket: Ticket) -> None:
        line = add_by_hand(ticket=ticket, part=None, words="Odd circlip", quantity=Decimal(1), by=None)
        assert (line.title, line.unit_price) == ("Odd circlip", None)

    def test_neither_part_nor_words_is_refused(self, ticket: Ticket) -> None:
        with pytest.raises(ValidationError, match="Choose a part or say in words"):
            add_by_hand(ticket=ticket, part=None, words=" ", quantity=Decimal(1), by=None)

    @pytest.mark.parametrize("quantity", [0, -2])
    def test_nothing_of_a_part_is_refused(self, ticket: Ticket, quantity: int) -> None:
        with pytest.raises(ValidationError, match="above zero"):
            add_by_hand(ticket=ticket, part=PartFactory(), quantity=Decimal(quantity), by=None)

    def test_the_kit_adds_its_parts_once(self, ticket: Ticket) -> None:
        kit(ticket, PartFactory(), PartFactory(role=Part.Role.FOAM_RING))
        assert len(add_from_kit(ticket=ticket, level="lowers", by=None)) == 2
        assert add_from_kit(ticket=ticket, level="lowers", by=None) == []
        assert ticket.part_lines.count() == 2

    def test_a_model_without_kit_says_so(self, ticket: Ticket) -> None:
        with pytest.raises(PartLineRefused, match="no kit for a full service"):
            add_from_kit(ticket=ticket, level="full", by=None)

    def test_a_finding_asks_for_the_models_own_part_of_a_role(self, ticket: Ticket) -> None:
        wiper = PartFactory(role=Part.Role.WIPER)
        kit(ticket, wiper)
        step = StepFactory()
        wanted = [{"role": "wiper", "quantity": 2, "note": "Both legs"}]
        (line,) = add_from_answer(ticket=ticket, step=step, parts=wanted, by=None)
        assert (line.part, line.quantity, line.source, line.note) == (wiper, Decimal(2), "finding", "Both legs")
        assert add_from_answer(ticket=ticket, step=step, parts=wanted, by=None) == []

    def test_oil_is_taken_by_the_kits_quantity(self, ticket: Ticket) -> None:
        kit(ticket, PartFactory(role=Part.Role.OIL, measure="ml"), quantity=25)
        wanted = [{"role": "oil", "quantity": 1}]
        (line,) = add_from_answer(ticket=ticket, step=StepFactory(), parts=wanted, by=None)
        assert line.quantity == 25

    def test_the_damper_has_its_own_oil_and_never_that_of_the_lower_legs(self, ticket: Ticket) -> None:
        """The smallest kit's oil is the lower legs'; a damper filled with it is spoilt."""
        of_legs = PartFactory(role=Part.Role.OIL, measure="ml", oil=OilFactory())
        of_damper = PartFactory(role=Part.Role.OIL, measure="ml", oil=OilFactory(name="Fluid 5"))
        kit(ticket, of_legs, of_damper, quantity=180)
        wanted = [{"role": "damper_oil", "quantity": 1}]
        (line,) = add_from_answer(ticket=ticket, step=StepFactory(), parts=wanted, by=None)
        assert line.part is None, "nothing is guessed"
        assert (line.title, line.quantity) == ("Damper oil", Decimal(1))
        SpecValueFactory(
            model=ticket.unit.model, quantity="damper_oil", typed="Fluid 5", text="Fluid 5",
            magnitude_si=None,
        )  # fmt: skip
        (line,) = add_from_answer(ticket=ticket, step=StepFactory(), parts=wanted, by=None)
        assert (line.part, line.quantity) == (of_damper, Decimal(180))
        assert is_of_role(line, "damper_oil")
        assert add_from_answer(ticket=ticket, step=StepFactory(), parts=wanted, by=None) == []

    @pytest.mark.parametrize(
        ("role", "listed"), [("damper_seals", Part.Role.DAMPER_SEAL), ("can_seals", Part.Role.SPRING_SEAL)]
    )
    def test_seals_that_a_checklist_calls_otherwise_are_the_kits(
        self, ticket: Ticket, role: str, listed: Part.Role
    ) -> None:
        seals = PartFactory(role=listed)
        kit(ticket, seals)
        (line,) = add_from_answer(ticket=ticket, step=StepFactory(), parts=[{"role": role}], by=None)
        assert line.part == seals

    def test_a_role_no_part_is_known_for_becomes_words(self, ticket: Ticket) -> None:
        wanted = [{"role": "air_spring_seals", "quantity": 1}, {"role": "coil_spring", "quantity": 1}]
        lines = add_from_answer(ticket=ticket, step=StepFactory(), parts=wanted, by=None)
        assert [line.title for line in lines] == ["Spring seal kit", "Coil spring"]

    def test_an_answer_taken_back_drops_what_nobody_used(self, ticket: Ticket) -> None:
        step = StepFactory()
        wanted = [{"role": "bushing", "quantity": 1}, {"role": "damper", "quantity": 1}]
        used, unused = add_from_answer(ticket=ticket, step=step, parts=wanted, by=None)
        use_part_line(line=used, by=None)
        assert drop_lines_of_step(ticket=ticket, step=step, by=None) == 1
        unused.refresh_from_db()
        assert unused.status == "dropped"
        assert len(add_from_answer(ticket=ticket, step=step, parts=wanted, by=None)) == 1

    def test_a_part_in_words_that_the_finding_asked_for_is_not_asked_for_again_by_its_repair(
        self, ticket: Ticket
    ) -> None:
        """Found at the soap test, done at the repair: one seal is fitted, and one is charged."""
        wanted = [{"role": "top_cap_seal", "quantity": 1}]
        assert len(add_from_answer(ticket=ticket, step=StepFactory(), parts=wanted, by=None)) == 1
        assert add_from_answer(ticket=ticket, step=StepFactory(), parts=wanted, by=None) == []

    def test_nor_once_the_role_is_called_something_else(self, ticket: Ticket, monkeypatch: pytest.MonkeyPatch) -> None:
        """Two roles, one that the parts list has and one that checklists write otherwise; then both are reworded."""
        wanted = [{"role": "wiper", "quantity": 1}, {"role": "air_spring_seals", "quantity": 1}]
        assert len(add_from_answer(ticket=ticket, step=StepFactory(), parts=wanted, by=None)) == 2
        for role in (Part.Role.WIPER, Part.Role.SPRING_SEAL):
            monkeypatch.setattr(role, "_label_", f"{role.label}, new words")
        assert add_from_answer(ticket=ticket, step=StepFactory(), parts=wanted, by=None) == []


class TestStock:
    def test_what_other_tickets_need_is_not_in_stock_for_this_one(self, ticket: Ticket) -> None:
        part = stocked(ticket, 3)
        add_by_hand(ticket=ticket, part=part, quantity=Decimal(2), by=None)
        assert lines_of(ticket)[0].in_stock is True
        sooner = TicketFactory(shop=ticket.shop, promised_on=ticket.promised_on - dt.timedelta(days=1))
        PartLineFactory(ticket=sooner, part=part, quantity=Decimal(2))
        (shown,) = lines_of(ticket)
        assert (shown.in_stock, shown.must_be_ordered, shown.wanted_elsewhere) == (False, True, Decimal(2))
        assert lines_of(sooner)[0].in_stock is True

    def test_what_is_on_order_need_not_be_ordered_again(self, ticket: Ticket) -> None:
        part = stocked(ticket, 1)
        add_by_hand(ticket=ticket, part=part, quantity=Decimal(2), by=None)
        part.stock_items.update(supplier="North", lead_days=4)
        place_order(shop=ticket.shop, supplier="North", quantities={part.stock_items.get().pk: Decimal(1)}, by=None)
        (shown,) = lines_of(ticket)
        assert (shown.in_stock, shown.must_be_ordered) == (False, False)
        assert shown.coming is not None
        assert shown.coming.expected_on == timezone.localdate() + dt.timedelta(days=4)
        assert availability(shown).startswith("on order, expected ")
        add_by_hand(ticket=ticket, part=part, quantity=Decimal(1), by=None)
        assert [line.must_be_ordered for line in lines_of(ticket)] == [False, True]

    @pytest.mark.parametrize("why_not", ["closed", "another shop", "used"])
    def test_only_open_needs_of_this_shop_count(self, ticket: Ticket, why_not: str) -> None:
        part = stocked(ticket, 2)
        add_by_hand(ticket=ticket, part=part, quantity=Decimal(2), by=None)
        other = TicketFactory() if why_not == "another shop" else TicketFactory(shop=ticket.shop)
        if why_not == "closed":
            Ticket.objects.filter(pk=other.pk).update(state="handed_back")
        PartLineFactory(ticket=other, part=part, status="used" if why_not == "used" else "needed")
        assert lines_of(ticket)[0].in_stock is True

    def test_a_part_the_shop_does_not_keep_must_be_ordered(self, ticket: Ticket) -> None:
        add_by_hand(ticket=ticket, part=PartFactory(), quantity=Decimal(1), by=None)
        (shown,) = lines_of(ticket)
        assert (shown.in_stock, shown.level, shown.must_be_ordered) == (None, None, True)

    def test_using_a_line_takes_it_out_of_the_stores_and_back(self, ticket: Ticket) -> None:
        part = stocked(ticket, 3)
        item = part.stock_items.get()
        line = add_by_hand(ticket=ticket, part=part, quantity=Decimal(2), by=None)
        use_part_line(line=line, by=None)
        assert level_of(item) == 1
        take_up_again(line=line, by=None)
        assert (level_of(item), line.status) == (Decimal(3), "needed")
        use_part_line(line=line, by=None)
        assert level_of(item) == 1

    def test_using_more_than_there_is_changes_nothing(self, ticket: Ticket) -> None:
        line = add_by_hand(ticket=ticket, part=stocked(ticket, 0), quantity=Decimal(1), by=None)
        with pytest.raises(NotEnoughInStock, match="receive or count"):
            use_part_line(line=line, by=None)
        assert PartLine.objects.get(pk=line.pk).status == "needed"

    @pytest.mark.parametrize(("there", "short"), [(1, True), (2, True), (3, False), (0, False)])
    def test_what_is_kept_for_an_earlier_promise_is_asked_about(self, ticket: Ticket, there: int, short: bool) -> None:
        part = stocked(ticket, there)
        sooner = TicketFactory(shop=ticket.shop, promised_on=ticket.promised_on - dt.timedelta(days=2))
        add_by_hand(ticket=sooner, part=part, quantity=Decimal(2), by=None)
        line = add_by_hand(ticket=ticket, part=part, quantity=Decimal(1), by=None)
        if not there:
            with pytest.raises(NotEnoughInStock):
                use_part_line(line=line, by=None)
            return
        if not short:
            use_part_line(line=line, by=None)
            assert not sooner.events.filter(kind="part_given_up").exists()
            return
        for others in ((), (sooner.number + 40,)):
            with pytest.raises(KeptForOthers, match=rf"kept for ticket {sooner.number} \(promised") as asked:
                use_part_line(line=line, by=None, taking_from=others)
            assert asked.value.numbers == [sooner.number]
        assert PartLine.objects.get(pk=line.pk).status == "needed"
        use_part_line(line=line, by=None, taking_from=[sooner.number])
        assert level_of(part.stock_items.get()) == there - 1
        assert said(sooner.events.first()) == (
            f"{part.description} was kept for this ticket and used on ticket {ticket.number}"
        )

    def test_what_a_later_promise_could_have_is_not_asked_about(self, ticket: Ticket) -> None:
        part = stocked(ticket, 2)
        later = TicketFactory(shop=ticket.shop, promised_on=ticket.promised_on + dt.timedelta(days=2))
        add_by_hand(ticket=later, part=part, quantity=Decimal(2), by=None)
        line = add_by_hand(ticket=ticket, part=part, quantity=Decimal(1), by=None)
        use_part_line(line=line, by=None)
        assert not later.events.filter(kind="part_given_up").exists()

    def test_another_line_of_the_same_ticket_is_nobody_elses(self, ticket: Ticket) -> None:
        part = stocked(ticket, 1)
        first, second = (add_by_hand(ticket=ticket, part=part, quantity=Decimal(1), by=None) for _ in range(2))
        use_part_line(line=second, by=None)
        assert [shown.in_stock for shown in lines_of(ticket) if shown.line.pk == first.pk] == [False]

    def test_a_line_is_used_once(self, ticket: Ticket) -> None:
        line = add_by_hand(ticket=ticket, part=stocked(ticket, 5), quantity=Decimal(1), by=None)
        twin = PartLine.objects.get(pk=line.pk)
        use_part_line(line=line, by=None)
        with pytest.raises(PartLineRefused, match="already used"):
            use_part_line(line=twin, by=None)
        with pytest.raises(PartLineRefused, match="already used"):
            drop_part_line(line=PartLine.objects.get(pk=line.pk), by=None)

    def test_quantity_is_changed_while_it_is_needed(self, ticket: Ticket) -> None:
        line = add_by_hand(ticket=ticket, part=stocked(ticket, 5), quantity=Decimal(1), by=UserFactory())
        set_quantity(line=line, quantity=Decimal(3), seen=Decimal(1), by=None)
        assert changed(ticket.events.first()) == {"Quantity": ["1", "3"]}
        drop_part_line(line=line, by=None)
        with pytest.raises(PartLineRefused, match="stays 3"):
            set_quantity(line=line, quantity=Decimal(4), seen=Decimal(3), by=None)

    def test_a_quantity_that_somebody_else_changed_stays_theirs(self, ticket: Ticket) -> None:
        line = add_by_hand(ticket=ticket, part=stocked(ticket, 5), quantity=Decimal(1), by=None)
        set_quantity(line=PartLine.objects.get(pk=line.pk), quantity=Decimal(2), seen=Decimal(1), by=None)
        with pytest.raises(QuantityChanged, match="to 2 meanwhile"):
            set_quantity(line=line, quantity=Decimal(4), seen=Decimal(1), by=None)
        assert PartLine.objects.get().quantity == 2

    def test_nothing_of_a_ticket_that_is_handed_back_moves(self, ticket: Ticket) -> None:
        line = add_by_hand(ticket=ticket, part=stocked(ticket, 5), quantity=Decimal(1), by=None)
        kit(ticket, PartFactory())
        Ticket.objects.update(state="handed_back")
        for change in (
            lambda: use_part_line(line=line, by=None),
            lambda: drop_part_line(line=line, by=None),
            lambda: set_quantity(line=line, quantity=Decimal(2), seen=Decimal(1), by=None),
            lambda: add_by_hand(ticket=ticket, part=None, words="Circlip", quantity=Decimal(1), by=None),
            lambda: add_from_kit(ticket=ticket, level="lowers", by=None),
        ):
            with pytest.raises(ValidationError, match="handed back"):
                change()
        assert (PartLine.objects.get().status, StockMovement.objects.count()) == ("needed", 1)

    def test_what_is_dropped_costs_nothing(self, ticket: Ticket) -> None:
        kept = add_by_hand(ticket=ticket, part=stocked(ticket, 5), quantity=Decimal(1), by=None)
        drop_part_line(line=add_by_hand(ticket=ticket, part=stocked(ticket, 5), quantity=Decimal(1), by=None), by=None)
        assert total_of(lines_of(ticket)) == kept.total

    def test_many_lines_take_as_many_queries_as_one(
        self, ticket: Ticket, django_assert_num_queries: DjangoAssertNumQueries
    ) -> None:
        for _ in range(12):
            add_by_hand(ticket=ticket, part=stocked(ticket, 5), quantity=Decimal(1), by=None)
        with django_assert_num_queries(5):
            assert len(lines_of(ticket)) == 12
