"""A ticket: all of it at a glance, its moves, what was agreed, its settings and its hand-back."""

from __future__ import annotations

from collections.abc import Sequence

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop.bench.resolving import ask_parts, resolve_first
from workshop.counter.complaint_choices import complaint_groups, how_often
from workshop.counter.saving import CHANGED_MEANWHILE, REFUSED, edit_page, put_beside_fields, seen_version
from workshop.counter.settings_forms import SettingsForm
from workshop.counter.squeezing import is_known, keep_tick
from workshop.counter.ticket_forms import AgreementForm, ConditionForm, MoveForm
from workshop.counter.ticket_page import logbook_of, ticket_context, whole_ticket
from workshop.promise.squeezed import Pushed, keep_squeezed_in, pushed_by_move
from workshop.staff.models import Shop, User
from workshop.tickets.access import ticket_of
from workshop.tickets.booking import Agreed
from workshop.tickets.condition import add_condition_note
from workshop.tickets.editing import edit_ticket
from workshop.tickets.models import SettingsRecord, Ticket
from workshop.tickets.refusals import refusal_words
from workshop.tickets.settings_record import NO_RECORD_YET, record_settings
from workshop.till.standing import money_of
from workshop.web.number_words import shop_money
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, counter_only
from workshop.web.versions import StaleVersion
from workshop.work.leaving import settings_as_it_leaves
from workshop.work.moves import UnlawfulMove, move
from workshop.work.unresolved import PartsUnresolved
from workshop.work.work import run_states

AND_READY = "Keep this, and it is ready"


@require_GET
@anyone_in_the_shop
def ticket(request: ShopRequest, number: int) -> HttpResponse:
    return render(request, "counter/ticket.html", ticket_context(whole_ticket(request.shop, number)))


@require_GET
@anyone_in_the_shop
def logbook(request: ShopRequest, number: int) -> HttpResponse:
    """Who did what: it follows the ticket's page once that is there, and is a page of its own."""
    template = "counter/_logbook.html" if request.htmx else "counter/logbook.html"
    return render(request, template, logbook_of(request.shop, number))


@require_POST
@anyone_in_the_shop
def move_ticket(request: ShopRequest, number: int) -> HttpResponse:
    """Take the ticket to another state; what somebody else did meanwhile is shown before anything happens."""
    the_ticket = ticket_of(request.shop, number)
    form = MoveForm(request.POST, ticket=the_ticket)
    status, refusal = REFUSED, None
    if seen_version(request) != the_ticket.version:
        status = CHANGED_MEANWHILE
    elif form.is_valid():
        wanted = form.cleaned_data
        if (asked := resolve_first(request, the_ticket, AND_READY)) is not None:
            return asked
        try:
            move(
                ticket=the_ticket,
                to_state=wanted["to_state"],
                waiting_for=wanted["waiting_for"],
                reason=wanted["reason"],
                by=request.user,
                seen_version=seen_version(request),
            )
        except PartsUnresolved:
            return ask_parts(request, the_ticket, AND_READY)
        except StaleVersion:
            status = CHANGED_MEANWHILE
        except (UnlawfulMove, ValidationError) as refused:
            refusal = refused
            form.add_error(None, refusal_words(refused))
        else:
            messages.success(request, f"Ticket {number} is now: {the_ticket.state_words.lower()}.")
            _warn_of_money_held(request, the_ticket)
            return redirect("counter:ticket", number)
    return _refused_move(request, number, form, status, refusal)


def _warn_of_money_held(request: ShopRequest, ticket: Ticket) -> None:
    """A ticket called off with a deposit is not closed in silence."""
    if ticket.state == Ticket.State.CALLED_OFF and (held := money_of(ticket)) > 0:
        words = shop_money(held, request.shop)
        messages.warning(request, f"{words} was paid for it. Pay back what it does not come to when it is handed back.")


def _refused_move(
    request: ShopRequest, number: int, form: MoveForm, status: int, refusal: Exception | None
) -> HttpResponse:
    fresh = whole_ticket(request.shop, number)
    if status == CHANGED_MEANWHILE:
        form = MoveForm(ticket=fresh, initial={"reason": request.POST.get("reason", "")})
    meanwhile = status == CHANGED_MEANWHILE
    context = ticket_context(fresh, move_form=form, changed_meanwhile=meanwhile, refusal=refusal)
    return render(request, "counter/ticket.html", context, status=status)


@require_http_methods(["GET", "POST"])
@counter_only
def edit_agreement(request: ShopRequest, number: int) -> HttpResponse:
    the_ticket = whole_ticket(request.shop, number)
    form = AgreementForm(request.POST, ticket=the_ticket) if request.method == "POST" else AgreementForm.of(the_ticket)
    pushed = _pushed(form, the_ticket) if request.method == "POST" else []
    return edit_page(
        request,
        template="counter/ticket_edit.html",
        form=form,
        version=the_ticket.version,
        save=lambda seen: _change_agreement(the_ticket, request.user, seen, form, pushed),
        form_of=lambda _: AgreementForm.of(whole_ticket(request.shop, number)),
        done_url=reverse("counter:ticket", args=[number]),
        said="The agreement is changed; the history keeps what it was.",
        context={
            "ticket": the_ticket,
            "complaint_groups": complaint_groups(form, how_often(request.shop), kind=the_ticket.unit.kind),
        },
    )


def _pushed(form: AgreementForm, the_ticket: Ticket) -> list[Pushed]:
    """What the day that was typed pushes; the form asks back where that is news."""
    if not (form.is_valid() and the_ticket.is_open):
        keep_tick(form, "promised_on")
        return []
    day = form.cleaned_data["promised_on"]
    if day == the_ticket.promised_on:
        return []
    pushed = pushed_by_move(the_ticket.shop, timezone.localdate(), tickets=[the_ticket.pk], to=day)
    is_known(form, "promised_on", day, pushed)
    return pushed


@transaction.atomic
def _change_agreement(the_ticket: Ticket, by: User, seen: int, form: AgreementForm, pushed: Sequence[Pushed]) -> None:
    edit_ticket(ticket=the_ticket, by=by, seen_version=seen, agreed=Agreed(**form.cleaned_data))
    keep_squeezed_in(ticket=the_ticket, by=by, pushed=pushed)


@require_http_methods(["GET", "POST"])
@anyone_in_the_shop
def settings(request: ShopRequest, number: int, moment: str) -> HttpResponse:
    """Write down or correct the settings on arrival or at hand-back."""
    if moment not in SettingsRecord.Moment.values:
        raise Http404
    the_ticket = ticket_of(request.shop, number)
    record = SettingsRecord.objects.filter(ticket=the_ticket, moment=moment).first()
    shop = request.shop
    if request.method == "POST":
        form = SettingsForm(request.POST, shop=shop, travel_m=the_ticket.unit.travel_m)
    else:
        form = _form_of(the_ticket, moment, shop)
    return edit_page(
        request,
        template="counter/settings.html",
        form=form,
        version=record.version if record else NO_RECORD_YET,
        save=lambda seen: record_settings(
            ticket=the_ticket, moment=moment, settings=form.settings, by=request.user, seen_version=seen
        ),
        form_of=lambda _: _form_of(ticket_of(shop, number), moment, shop),
        done_url=reverse("counter:ticket", args=[number]),
        said="The settings are saved.",
        context={"ticket": the_ticket, "moment": SettingsRecord.Moment(moment).label},
    )


def _form_of(ticket: Ticket, moment: str, shop: Shop) -> SettingsForm:
    """What is known of a moment; what the bench read after the work counts as read at hand-back."""
    if moment == SettingsRecord.Moment.HAND_BACK:
        read = settings_as_it_leaves(ticket, run_states(ticket)).settings
        return SettingsForm.filled(read, shop, ticket.unit.travel_m)
    return SettingsForm.of(ticket.settings_records.filter(moment=moment).first(), shop, ticket.unit.travel_m)


@require_POST
@anyone_in_the_shop
@sent_once
def add_condition(request: ShopRequest, number: int) -> HttpResponse:
    the_ticket = ticket_of(request.shop, number)
    form = ConditionForm(request.POST)
    if form.is_valid():
        try:
            add_condition_note(ticket=the_ticket, by=request.user, **form.cleaned_data)
        except ValidationError as error:
            put_beside_fields(form, error)
        else:
            messages.success(request, "The mark is saved.")
            return redirect(f"{reverse('counter:ticket', args=[number])}#condition")
    context = ticket_context(whole_ticket(request.shop, number), condition_form=form)
    return render(request, "counter/ticket.html", context, status=REFUSED)
