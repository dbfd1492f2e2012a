"""Handing over: one page with what was done, what is paid, the settings it leaves with, and one button."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from diagnosis.runs_state import RunState
from workshop.bench.resolving import ASKED, ask_parts, resolve_first
from workshop.charges.standing import charges_standing
from workshop.charges.sums import LABOUR, PART, Charges
from workshop.counter.saving import CHANGED_MEANWHILE, REFUSED, differences, put_beside_fields, seen_version
from workshop.counter.settings_forms import SettingsForm, hand_back_form
from workshop.counter.ticket_page import ticket_context, whole_ticket
from workshop.counter.till_forms import ClientIdForm, PaidForm
from workshop.staff.models import Shop
from workshop.tickets.models import SettingsRecord, Ticket
from workshop.tickets.settings_record import NO_RECORD_YET
from workshop.till.models import HandOver
from workshop.till.receipts import may_go_together
from workshop.till.standing import paid_for
from workshop.web.number_words import figures, shop_money
from workshop.web.requests import ShopRequest
from workshop.web.roles import counter_only
from workshop.web.versions import StaleVersion
from workshop.work.findings import Finding
from workshop.work.going_along import ready_beside
from workshop.work.hand_over import hand_over
from workshop.work.leaving import settings_as_it_leaves
from workshop.work.moves import UnlawfulMove, moves_from
from workshop.work.part_prices import UnpricedLines
from workshop.work.unresolved import PartsUnresolved

AND_BACK = "Keep this, and hand it back"


@dataclass
class Page:
    """The ticket as it is now, the forms of its hand-over, and what else the page shows."""

    request: ShopRequest
    ticket: Ticket
    form: SettingsForm
    paid_form: PaidForm
    context: dict[str, Any]


@require_http_methods(["GET", "POST"])
@counter_only
def hand_back_ticket(request: ShopRequest, number: int) -> HttpResponse:
    """The page, and handing over; what is refused comes back with all that was typed."""
    ticket = whole_ticket(request.shop, number)
    if Ticket.State.HANDED_BACK not in moves_from(ticket.state):
        return _not_now(request, ticket)
    page = _page_of(request, ticket)
    if request.method != "POST":
        return _answer(page, 200)
    if not page.form.is_valid():
        return _answer(page, REFUSED)
    if seen_version(request) != ticket.version:
        return _changed(page)
    if (asked := resolve_first(request, ticket, AND_BACK)) is not None:
        return asked
    if ASKED in request.POST:
        page = _page_of(request, whole_ticket(request.shop, number))  # what was used is charged now
    if not (page.form.is_valid() and page.paid_form.is_valid()):
        return _answer(page, REFUSED)
    return _press(page)


def _press(page: Page) -> HttpResponse:
    """Hand over what the forms say, both of them valid, and answer."""
    try:
        _hand_over(page)
    except PartsUnresolved:
        return ask_parts(page.request, page.ticket, AND_BACK)
    except StaleVersion:
        return _changed(page)
    except UnlawfulMove as refused:
        page.form.add_error(None, str(refused))
        return _refused(page, [refused])
    except ValidationError as refused:
        put_beside_fields(page.paid_form, refused)
        return _refused(page, [refused] if isinstance(refused, UnpricedLines) else [])
    return _done(page)


def _refused(page: Page, refusals: list[Exception]) -> HttpResponse:
    """What was refused has touched the ticket in hand: it is shown as it is stored."""
    again = _page_of(page.request, whole_ticket(page.request.shop, page.ticket.number))
    again.form = page.form
    if again.paid_form.due == page.paid_form.due:
        again.paid_form = page.paid_form
    else:
        again.paid_form.add_error(None, _due_words(again.paid_form, page.request.shop))
    again.context["refusals"] = refusals
    return _answer(again, REFUSED)


def _due_words(paid_form: PaidForm, shop: Shop) -> str:
    due = shop_money(paid_form.due, shop)
    return f"What is due changed since this page was opened: it is {due} now. Look at it, and press again."


def _not_now(request: ShopRequest, ticket: Ticket) -> HttpResponse:
    """Sent twice, it is done and looks so; otherwise say where the ticket is."""
    sent = ClientIdForm(request.POST)
    if sent.is_valid() and HandOver.objects.filter(ticket=ticket, client_id=sent.cleaned_data["client_id"]).exists():
        messages.info(request, "This was sent already and is done once.")
        return redirect("counter:payments", ticket.number)
    words = ticket.state_words.lower()
    messages.warning(request, f"Ticket {ticket.number} is {words} and cannot be handed back now.")
    return redirect("counter:ticket", ticket.number)


def _page_of(request: ShopRequest, ticket: Ticket) -> Page:
    shop = request.shop
    context = ticket_context(ticket)
    states, pieces, unsafe = context["run_states"], context["pieces"], context["unsafe"]
    answers = [row.answer for row in reversed(context["decided"])]
    charged = charges_standing(ticket, answers=answers)
    paid = paid_for(ticket, charged.charges.gross)
    findings = [shown.finding for shown in context["findings"]]
    record = context["settings_records"].get(SettingsRecord.Moment.HAND_BACK)
    sent = [request.POST] if request.method == "POST" else []
    form_class = hand_back_form(in_pieces=bool(pieces.words), unsafe=bool(unsafe.words))
    form = (
        _filled(form_class, ticket, states, shop)
        if not sent
        else form_class(*sent, shop=shop, travel_m=ticket.unit.travel_m)
    )
    paid_form = PaidForm(
        *sent,
        shop=shop,
        due=paid.due,
        gross=paid.gross,
        together=may_go_together(ticket),
        beside=ready_beside(ticket),
    )
    context |= {
        "charged": charged,
        "paid": paid,
        "done_lines": done_lines(charged.charges, findings),
        "unanswered": [finding for finding in findings if finding.is_open and not finding.is_unsafe],
        "seen_settings_version": record.version if record else NO_RECORD_YET,
        "seen_version": seen_version(request) if sent else ticket.version,
        "refusals": [],
    }
    return Page(request, ticket, form, paid_form, context)


def _filled(form_class: type[SettingsForm], ticket: Ticket, states: Sequence[RunState], shop: Shop) -> SettingsForm:
    """What the bench read after the work counts as read at hand-back."""
    return form_class.filled(settings_as_it_leaves(ticket, states).settings, shop, ticket.unit.travel_m)


def done_lines(charges: Charges, findings: Sequence[Finding]) -> list[tuple[str, str]]:
    """What was done in three lines, each with its label: work, findings, parts. Lines without anything are left out."""
    work = [line.title for line in charges.lines if line.kind == LABOUR and not (line.amount and line.amount < 0)]
    parts = [
        f"{figures(line.quantity)} {line.unit or '×'} {line.title}"
        for line in charges.lines
        if line.kind == PART and not (line.amount and line.amount < 0)
    ]
    lines = [("Work", work), ("Found", [finding.title for finding in findings]), ("Parts", parts)]
    return [(label, "; ".join(dict.fromkeys(words))) for label, words in lines if words]


def _hand_over(page: Page) -> None:
    said, paid_form = page.form.cleaned_data, page.paid_form
    if paid_form.cleaned_data["seen_due"] not in (None, paid_form.own_due):
        raise ValidationError(_due_words(paid_form, page.request.shop))
    hand_over(
        ticket=page.ticket,
        by=page.request.user,
        seen_version=seen_version(page.request),
        settings=page.form.settings,
        paid=paid_form.paid,
        client_id=paid_form.cleaned_data["client_id"],
        seen_settings_version=seen_version(page.request, "seen_settings_version"),
        reason=said.get("reason", ""),
        signed_by=said.get("signed_by", ""),
        along=paid_form.along,
    )


def _done(page: Page) -> HttpResponse:
    unsafe, pieces = page.context["unsafe"].words, page.context["pieces"].words
    how = f"{' unsafe' if unsafe else ''}{' in pieces' if pieces else ''}"
    change = page.paid_form.change
    back = f" Give {shop_money(change, page.request.shop)} change." if change else ""
    along = [one.ticket.number for one in page.paid_form.goes_along]
    too = f" Handed back with it: {', '.join(f'ticket {number}' for number in along)}." if along else ""
    messages.success(page.request, f"Ticket {page.ticket.number} is handed back{how}.{too}{back}")
    return redirect("counter:payments", page.ticket.number)


def _changed(page: Page) -> HttpResponse:
    """Somebody was quicker: what was typed beside what is stored now."""
    again = _page_of(page.request, whole_ticket(page.request.shop, page.ticket.number))
    stored = _filled(type(page.form), again.ticket, again.context["run_states"], page.request.shop)
    again.context |= {"differences": differences(page.form, stored), "seen_version": again.ticket.version}
    again.form = page.form
    return _answer(again, CHANGED_MEANWHILE)


def _answer(page: Page, status: int) -> HttpResponse:
    shown = {**page.context, "form": page.form, "paid_form": page.paid_form}
    return render(page.request, "counter/hand_back.html", shown, status=status)
