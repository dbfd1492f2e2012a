"""A ticket's visit: what came with it, and which tickets are of one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from workshop.counter.saving import CHANGED_MEANWHILE, REFUSED, edit_page, put_beside_fields, seen_version
from workshop.counter.squeezing import is_known, keep_tick
from workshop.counter.visit_forms import CameWithForm, JoinForm, OneDayForm, SplitForm
from workshop.promise.squeezed import Pushed, keep_squeezed_in, pushed_by_move
from workshop.staff.models import Shop, User
from workshop.staff.roles import Right
from workshop.tickets.access import ticket_of
from workshop.tickets.models import Ticket, Visit
from workshop.tickets.refusals import UnlawfulMove, refusal_words
from workshop.tickets.visits import NO_VISIT_YET, join_visit, note_visit, others_of, promise_together, split_off
from workshop.web.requests import ShopRequest
from workshop.web.roles import counter_only, with_right
from workshop.web.versions import StaleVersion


@require_http_methods(["GET", "POST"])
@counter_only
def visit(request: ShopRequest, number: int) -> HttpResponse:
    """Loose parts, shelf, how it came and how it goes."""
    the_ticket = _with_visit(request.shop, number)
    form = CameWithForm(request.POST) if request.method == "POST" else CameWithForm.of(the_ticket.visit)
    return edit_page(
        request,
        template="counter/visit_edit.html",
        form=form,
        version=_version(the_ticket),
        save=lambda seen: note_visit(ticket=the_ticket, by=request.user, seen_version=seen, came_with=form.came_with),
        form_of=lambda _: CameWithForm.of(_with_visit(request.shop, number).visit),
        done_url=reverse("counter:ticket", args=[number]),
        said="What came with it is saved.",
        context={"ticket": the_ticket, "others": others_of(the_ticket)},
        version_of=lambda stored: stored.version if isinstance(stored, Visit) else NO_VISIT_YET,
    )


@require_http_methods(["GET", "POST"])
@with_right(Right.PUT_RIGHT)
def together(request: ShopRequest, number: int) -> HttpResponse:
    """Put the ticket to another of its customer, remove it from its visit, or promise all of it for one day.

    The button that was pressed says which.
    """
    the_ticket = _with_visit(request.shop, number)
    pressed = next((name for name in ("join", "split", "one_day") if name in request.POST), "split")
    sent = {name: request.POST if request.method == "POST" and name == pressed else None for name in
            ("join", "split", "one_day")}  # fmt: skip
    forms: dict[str, JoinForm | SplitForm | OneDayForm] = {
        "join": JoinForm(sent["join"], ticket=the_ticket),
        "split": SplitForm(sent["split"]),
        "one_day": OneDayForm(sent["one_day"], initial={"day": the_ticket.promised_on}),
    }
    status, form = 200, forms[pressed]
    if request.method == "POST":
        status = REFUSED
        pushed = _pushed(form, the_ticket) if isinstance(form, OneDayForm) else []
        if form.is_valid():
            try:
                said = _do(pressed, the_ticket, form.cleaned_data, request.user, seen_version(request), pushed)
            except StaleVersion:
                status = CHANGED_MEANWHILE
            except UnlawfulMove as refused:
                form.add_error(None, refusal_words(refused))
            except ValidationError as refused:
                put_beside_fields(form, refused)
            else:
                messages.success(request, f"{said} The history of each of them says so.")
                return redirect("counter:ticket", number)
    fresh = _with_visit(request.shop, number)
    others = others_of(fresh)
    context = {
        "ticket": fresh,
        "others": others,
        "open_others": fresh.is_open and any(other.is_open for other in others),
        **forms,
        "changed_meanwhile": status == CHANGED_MEANWHILE,
    }
    return render(request, "counter/visit_together.html", context, status=status)


def _pushed(form: OneDayForm, ticket: Ticket) -> list[Pushed]:
    """What the one day of the visit pushes; the form asks back where that is news."""
    if not form.is_valid():
        keep_tick(form, "day")
        return []
    together = [one.pk for one in (ticket, *others_of(ticket)) if one.is_open]
    day = form.cleaned_data["day"]
    pushed = pushed_by_move(ticket.shop, timezone.localdate(), tickets=together, to=day)
    is_known(form, "day", day, pushed)
    return pushed


@transaction.atomic
def _do(
    pressed: str, ticket: Ticket, typed: Mapping[str, Any], by: User, seen: int, pushed: Sequence[Pushed] = ()
) -> str:
    """What was pressed, done; returns what to say of it."""
    if pressed == "join":
        join_visit(ticket=ticket, beside=typed["beside"], by=by, seen_version=seen, reason=typed["reason"])
        return f"Ticket {ticket.number} is of that visit now."
    if pressed == "split":
        split_off(ticket=ticket, by=by, seen_version=seen, reason=typed["reason"])
        return f"Ticket {ticket.number} stands alone now."
    promise_together(ticket=ticket, by=by, seen_version=seen, day=typed["day"])
    keep_squeezed_in(ticket=ticket, by=by, pushed=pushed)
    return f"All of the visit of ticket {ticket.number} is promised for one day."


def _with_visit(shop: Shop, number: int) -> Ticket:
    return ticket_of(shop, number, Ticket.objects.with_names().select_related("visit"))


def _version(ticket: Ticket) -> int:
    return NO_VISIT_YET if ticket.visit is None else ticket.visit.version
