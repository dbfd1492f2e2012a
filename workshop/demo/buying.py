"""An order of which a part has come, and estimates that customers have or have not answered, in the demo shop."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import ROUND_CEILING, Decimal

from workshop.charges.agreeing import record_answer
from workshop.charges.models import Agreement
from workshop.documents.issuing import issue
from workshop.documents.rendering import PdfUnavailable
from workshop.issued.models import Document
from workshop.staff.models import Shop, User
from workshop.stock.ordering import place_order, receive_goods
from workshop.stock.purchase_models import PurchaseOrder
from workshop.stock.shortages import stores_standing
from workshop.tickets.models import Ticket

ORDERED_DAYS_AGO = 3
EXPECTED_IN_DAYS = 2


def make_order(*, shop: Shop, staff: Mapping[str, User]) -> PurchaseOrder:
    """What the first supplier with a shortage was asked for some days ago; half of its first line has come."""
    lacking = [standing for standing in stores_standing(shop).items if standing.missing]
    supplier = lacking[-1].item.supplier
    wanted = {one.item.pk: one.suggested for one in lacking if one.item.supplier == supplier}
    order = place_order(shop=shop, supplier=supplier, quantities=wanted, by=staff["owner"], note="Demo order")
    order.ordered_at -= dt.timedelta(days=ORDERED_DAYS_AGO)
    order.expected_on = order.ordered_at.date() + dt.timedelta(days=ORDERED_DAYS_AGO + EXPECTED_IN_DAYS)
    order.sent_at = order.ordered_at
    order.save(update_fields=["ordered_at", "expected_on", "sent_at"])
    line = order.lines.all()[0]
    half = (line.ordered / 2).to_integral_value(ROUND_CEILING)
    receive_goods(order=order, seen_version=order.version, quantities={line.pk: Decimal(half)}, by=staff["counter"])
    return order


def make_estimates(*, shop: Shop, staff: Mapping[str, User]) -> None:
    """Of the tickets that wait for their customer, one has an estimate nobody answered, and one was agreed to.

    Where the machine cannot make PDFs there are none, since an estimate is its PDF.
    """
    tickets = Ticket.objects.of_shop(shop).with_names().select_related("shop")
    waiting = tickets.filter(state=Ticket.State.WAITING, waiting_for=Ticket.WaitingFor.CUSTOMER).order_by("number")
    try:
        _, agreed_one = [_estimate(ticket, staff["counter"]) for ticket in waiting[:2]]
    except PdfUnavailable:
        return
    record_answer(
        document=agreed_one,
        agreed=True,
        how=Agreement.How.PHONE,
        said_by=agreed_one.ticket.customer.name,
        note="Go ahead, no hurry (demo)",
        by=staff["counter"],
        seen_digest=agreed_one.data_digest,
    )


def _estimate(ticket: Ticket, by: User) -> Document:
    return issue(ticket=ticket, kind=Document.Kind.ESTIMATE, by=by, ticket_address="")
