"""What has to hold on every evening of the played month, added up apart from the code: plain loops and fractions."""

from __future__ import annotations

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction

from specs.models import StandIn
from workshop.charges.models import Agreement, FinalCharges, LabourLine
from workshop.models import BatchMovement, OrderLine, PartLine, Payment, Receipt, Shop, StockItem, StockMovement, Ticket
from workshop.promise.expected import ExpectedOfPart, expected_in_stores
from workshop.stock.basket import basket_of
from workshop.stock.models import StockLevel
from workshop.stock.value import value_on
from workshop.till.models import HandOver, ReceiptTicket
from workshop.till.standing import money_held, open_sums
from workshop.till.takings import takings_of

Rates = tuple[Decimal, Decimal]
"""Per cent of labour and of parts."""
OPEN = {"booked_in", "on_the_bench", "waiting", "ready"}


def check_levels(shop: Shop) -> None:
    """The stores show of each item what its movements come to, and never less than nothing on the way."""
    level: dict[int, Decimal] = defaultdict(Decimal)
    for item, quantity in StockMovement.objects.filter(item__shop=shop).order_by("pk").values_list("item", "quantity"):
        level[item] += quantity
        assert level[item] >= 0, f"item {item} went below nothing"
    shown = dict(StockLevel.objects.filter(item__shop=shop).values_list("item", "level"))
    assert {pk: amount for pk, amount in shown.items() if amount} == {pk: one for pk, one in level.items() if one}


def check_value(shop: Shop, day: dt.date) -> None:
    """The value on that day is what the movements say by the moving average, in fractions, to the cent of each item."""
    exact = {pk: value for pk, value in _exact_values(shop).items() if value is not None}
    shown = value_on(shop, day)
    assert {row.item.pk for row in shown.rows} == set(exact)
    for row in shown.rows:
        assert abs(Fraction(row.value) - exact[row.item.pk]) <= Fraction(51, 10000), f"worth of {row.item} on {day}"
        batches = [(one.batch.pk if one.batch else None, one.level) for one in row.batches]
        assert {pk: level for pk, level in batches if pk and level} == _in_batches(row.item)
        if batches:
            assert sum(level for _, level in batches) == row.level, f"batches of {row.item} on {day}"
            assert sum(one.value for one in row.batches) == row.value, f"worth of the batches of {row.item} on {day}"
    assert shown.value == sum((row.value for row in shown.rows), Decimal(0))


def _in_batches(item: StockItem) -> dict[int, Decimal]:
    """What is in each batch, from what went in and out."""
    level: dict[int, Decimal] = defaultdict(Decimal)
    moved = BatchMovement.objects.filter(batch__item=item).order_by("pk").values_list("batch", "quantity")
    for batch, quantity in moved:
        level[batch] += quantity
        assert level[batch] >= 0, f"batch {batch} went below nothing"
    return {pk: one for pk, one in level.items() if one}


def _exact_values(shop: Shop) -> dict[int, Fraction | None]:
    """By item; None where nothing is there. Every cost is known in the played shop."""
    amount: dict[int, Fraction] = defaultdict(Fraction)
    value: dict[int, Fraction] = defaultdict(Fraction)
    out: dict[int, Fraction] = defaultdict(Fraction)  # what a ticket's line took with it
    moved = StockMovement.objects.filter(item__shop=shop).order_by("pk")
    for item, kind, quantity, cost, line in moved.values_list("item", "kind", "quantity", "unit_cost", "part_line"):
        many = Fraction(quantity)
        average = value[item] / amount[item] if amount[item] else Fraction(0)
        if kind in ("received", "undone", "sent_back") and cost is not None:
            worth = many * Fraction(cost)
            if many < 0 and value[item] + worth < 0:
                worth = many * average
        elif kind == "returned" and line is not None:
            worth = out.pop(line)
        else:
            worth = many * average
        if kind == "used" and line is not None:
            out[line] -= worth
        amount[item] += many
        value[item] += worth
        if not amount[item]:
            value[item] = Fraction(0)
    return {item: value[item] if many else None for item, many in amount.items() if many}


def gross_cents(ticket: Ticket, rates: Rates) -> int:
    """What a ticket comes to with tax, in cents, by whole numbers; each rate's tax is rounded once, half up."""
    sums: dict[Fraction, int] = defaultdict(int)
    for price in LabourLine.objects.filter(ticket=ticket, dropped=False).values_list("price", flat=True):
        sums[Fraction(rates[0])] += _half_up(Fraction(price) * 100)
    used = PartLine.objects.filter(ticket=ticket, status="used").values_list("quantity", "unit_price")
    for quantity, each in used:
        sums[Fraction(rates[1])] += _half_up(Fraction(quantity) * Fraction(each or 0) * 100)
    return sum(net + _half_up(net * percent / 100) for percent, net in sums.items())


def _half_up(exact: Fraction) -> int:
    return math.floor(exact + Fraction(1, 2))


def check_money(shop: Shop, rates: Mapping[int, Rates], known: dict[int, int]) -> None:
    """`known` keeps what frozen charges come to, by their key, so that no evening adds up the whole month again.

    Tickets less credits, receipts less credit notes, and money with what is open come to the same three times."""
    charged = {}
    for final in FinalCharges.objects.filter(ticket__shop=shop).select_related("ticket"):
        if final.pk not in known:
            known[final.pk] = gross_cents(final.ticket, rates[final.ticket_id])
        charged[final.ticket_id] = known[final.pk]
        assert final.gross * 100 == charged[final.ticket_id], f"charges of ticket {final.ticket.number}"
    standing = {one.pk: one.ticket_id for one in HandOver.objects.filter(ticket__shop=shop, taken_back=None)}
    assert set(standing.values()) == set(charged)
    off = 0
    for hand_over, gross in ReceiptTicket.objects.filter(receipt__shop=shop, kind="credit").values_list(
        "hand_over", "gross"
    ):
        off += int(-gross * 100) if hand_over in standing else 0
    tickets = sum(charged.values()) - off

    receipts = Receipt.objects.filter(shop=shop).order_by("pk")
    by_paper = sum(int(one.gross * 100) for one in receipts)
    assert by_paper == tickets, "receipts are not what tickets come to"
    for kind in ("receipt", "credit"):
        numbers = [one.number for one in receipts if one.kind == kind]
        assert numbers == list(range(1, len(numbers) + 1)), f"numbers of {kind}s"

    money = sum(int(one.amount * 100) for one in Payment.objects.filter(shop=shop) if one.kind != Payment.Kind.ACCOUNT)
    still_open = sum(int(one.amount * 100) for one in open_sums(shop))
    held = sum(int(one.amount * 100) for one in money_held(shop))
    assert money + still_open - held == tickets, "money and what is open are not what tickets come to"


def check_all_takings(shop: Shop, days: Iterable[dt.date]) -> None:
    """What the till says of each day comes to all payments and all receipts of the month."""
    by_day = [takings_of(shop, day) for day in days]
    paid = Payment.objects.filter(shop=shop).exclude(kind=Payment.Kind.ACCOUNT).values_list("amount", flat=True)
    assert sum(day.money for day in by_day) == sum(paid)
    assert sum(row.sum for day in by_day for row in day.kinds) == sum(paid)
    assert sum(day.receipted for day in by_day) == sum(
        Receipt.objects.filter(shop=shop).values_list("gross", flat=True)
    )


def check_no_shortage_hidden(shop: Shop, likely: Mapping[int, Decimal]) -> None:
    """What open tickets need of each part, and surely will (`likely`), is there, on order, or said to be ordered.

    A part that was superseded may be covered by what took its place.
    """
    needed: dict[int, Decimal] = defaultdict(Decimal)
    for line in PartLine.objects.filter(ticket__shop=shop, status="needed").select_related("ticket"):
        if line.part_id is not None and line.ticket.state in OPEN and not _was_declined(line.ticket):
            needed[line.part_id] += line.quantity
    expected = expected_in_stores(shop)
    there = _there_and_coming(shop)
    said = _said_to_be_ordered(shop, expected)
    after = dict(StandIn.objects.filter(kind="superseded").values_list("part", "other"))
    wanted: dict[int, Decimal] = defaultdict(Decimal)
    covered: dict[int, Decimal] = defaultdict(Decimal)
    for part in {*needed, *likely, *there}:
        row = after.get(part, part)
        wanted[row] += needed[part] + likely.get(part, Decimal(0))
        covered[row] += there.get(part, Decimal(0)) + said.get(part, Decimal(0))
    short = {part: (amount, covered[part]) for part, amount in wanted.items() if amount > covered[part]}
    assert not short, f"needed beyond what is there, on order or said to be ordered: {short}"


def _was_declined(ticket: Ticket) -> bool:
    answers = Agreement.objects.filter(ticket=ticket).order_by("pk").values_list("agreed", flat=True)
    return bool(answers) and not list(answers)[-1] and ticket.price_ceiling is None


def _there_and_coming(shop: Shop) -> dict[int, Decimal]:
    """By part: the sum of its movements, and what open orders still have to bring."""
    amounts: dict[int, Decimal] = defaultdict(Decimal)
    part_of = dict(StockItem.objects.filter(shop=shop).values_list("pk", "part"))
    came: dict[int, Decimal] = defaultdict(Decimal)
    rows = StockMovement.objects.filter(item__shop=shop).values_list("item", "quantity", "order_line")
    for item, quantity, order_line in rows:
        amounts[part_of[item]] += quantity
        if order_line is not None:
            came[order_line] += quantity
    for line in OrderLine.objects.filter(order__shop=shop, order__closed_at=None):
        amounts[part_of[line.item_id]] += max(line.ordered - came[line.pk], Decimal(0))
    return amounts


def _said_to_be_ordered(shop: Shop, expected: Mapping[int, ExpectedOfPart]) -> dict[int, Decimal]:
    """By part: what the list of what is to be ordered says today, with what it shows as expected beside it."""
    ahead = {one.row.item.pk: one.suggested for one in expected.values() if one.row is not None and one.missing}
    basket = basket_of(shop, None, ahead)
    said = {}
    for row in [*(row for _, rows in basket.by_supplier for row in rows), *basket.left_out]:
        part = row.standing.item.part_id
        beside = expected[part].suggested if part in expected and expected[part].missing else Decimal(0)
        said[part] = max(row.quantity, beside)
    for other in basket.not_kept:
        if other.part is not None:
            said[other.part.pk] = sum((want.quantity for want in other.wants), Decimal(0))
    return said
