"""Office, Reminders: what is due, and the owner's word on it."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop.customers.models import Customer
from workshop.office.reminder_forms import ReminderForm, SnoozeForm
from workshop.reminders.delivery import mail_is_set_up, why_no_mail
from workshop.reminders.due import DueRow, due_row, due_rows
from workshop.reminders.kept_list import Place, kept_units
from workshop.reminders.models import Message
from workshop.reminders.opt_out import stop_token
from workshop.reminders.queueing import AlreadyTold, CannotRemind, decide, queue_reminder, undecide
from workshop.reminders.wording import draft_for, text_of
from workshop.suspension.models import SuspensionUnit
from workshop.web.converters import key_from
from workshop.web.day_words import short_day
from workshop.web.long_lists import LongListPaginator, tally
from workshop.web.public_address import link_for_customer
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only

REFUSED = 422
PER_PAGE = 40
MOST_AT_ONCE = 200


@require_GET
@owner_only
def due(request: ShopRequest) -> HttpResponse:
    """Who is due. `?who=all` shows those who did not agree too, to speak to at the counter; `?who=put_off` the rest."""
    today, who = timezone.localdate(), request.GET.get("who")
    kept = kept_units(request.shop, today)
    on_it, put_off = kept.filter(place__lt=Place.PUT_OFF), kept.filter(place=Place.PUT_OFF)
    chosen = {"all": on_it, "put_off": put_off}.get(who or "", on_it.filter(may_remind=True))
    page = LongListPaginator(chosen.values_list("unit", flat=True), PER_PAGE).get_page(request.GET.get("page"))
    rows = due_rows(request.shop, list(page.object_list), today)
    context = {
        "page": page,
        "rows": rows.rows,
        "put_off": rows.put_off,
        "who": who if who in {"all", "put_off"} else "agreed",
        "overdue": tally(kept.filter(place=Place.OVERDUE)),
        "due": tally(kept.filter(place=Place.DUE)),
        "coming_up": tally(kept.filter(place=Place.COMING_UP)),
        "silent": tally(on_it.filter(may_remind=False)),
        "put_off_count": tally(put_off),
        "waiting_count": Message.objects.filter(shop=request.shop, state=Message.State.QUEUED).count(),
        "no_mail": why_no_mail(request.shop),
    }
    return render(request, "reminders/due.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def review(request: ShopRequest, unit: int) -> HttpResponse:
    """One reminder: read it, change it, and let it go."""
    today = timezone.localdate()
    row = due_row(request.shop, unit, today)
    if row is None:
        get_object_or_404(SuspensionUnit, pk=unit, shop=request.shop)
        messages.info(request, "Nothing of it is due any more, or a reminder is on its way already.")
        return redirect("office:reminders")
    draft = draft_for(row, text_of(request.shop), today)
    initial = {"subject": draft.subject, "body": draft.body}
    form = ReminderForm(request.POST or None, channels=channels_of(row), initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            queue_reminder(row=row, stop_url=stop_url(request, row.customer), by=request.user, **form.cleaned_data)
        except (CannotRemind, AlreadyTold) as problem:
            form.add_error(None, str(problem))
        else:
            messages.success(request, f"The reminder for {row.customer} is queued.")
            return redirect("office:reminders_outbox")
    context = {"row": row, "form": form, "snooze_form": SnoozeForm(), "mail_is_set_up": mail_is_set_up(request.shop)}
    return render(request, "reminders/review.html", context, status=REFUSED if form.errors else 200)


@require_POST
@owner_only
def queue_ticked(request: ShopRequest) -> HttpResponse:
    """Queue the shop's text for every ticked unit, each the way its owner prefers."""
    today = timezone.localdate()
    ticked = {pk for pk in map(key_from, request.POST.getlist("unit")) if pk is not None}
    rows = due_rows(request.shop, ticked, today).rows[:MOST_AT_ONCE]
    text, queued = text_of(request.shop), 0
    for row in rows:
        draft = draft_for(row, text, today)
        ways = channels_of(row)
        try:
            queue_reminder(
                row=row,
                channel=ways[0] if ways else "",
                subject=draft.subject,
                body=draft.body,
                stop_url=stop_url(request, row.customer),
                by=request.user,
            )
            queued += 1
        except (CannotRemind, AlreadyTold) as problem:
            messages.warning(request, str(problem))
    if not ticked:
        messages.error(request, "Tick at least one row.")
        return redirect("office:reminders")
    if queued:
        messages.success(request, f"{queued} queued." if queued > 1 else "One queued.")
    return redirect("office:reminders_outbox")


@require_POST
@owner_only
def snooze(request: ShopRequest, unit: int) -> HttpResponse:
    row = _row(request, unit)
    form = SnoozeForm(request.POST)
    if form.is_valid():
        try:
            decide(keys=row.keys, snoozed_until=form.cleaned_data["until"], by=request.user)
        except ValidationError as error:
            form.add_error("until", error.message_dict["until"])
        else:
            messages.success(request, f"{row.unit} is put off until {short_day(form.cleaned_data['until'])}.")
            return redirect("office:reminders")
    draft = draft_for(row, text_of(request.shop), timezone.localdate())
    message_form = ReminderForm(channels=channels_of(row), initial={"subject": draft.subject, "body": draft.body})
    context = {"row": row, "form": message_form, "snooze_form": form, "mail_is_set_up": mail_is_set_up(request.shop)}
    return render(request, "reminders/review.html", context, status=REFUSED)


@require_POST
@owner_only
def skip(request: ShopRequest, unit: int) -> HttpResponse:
    """Say nothing of this service; it comes up again after the next one is done."""
    row = _row(request, unit)
    decide(keys=row.keys, snoozed_until=None, by=request.user)
    messages.success(request, f"{row.unit} of {row.customer} is skipped this time.")
    return redirect("office:reminders")


@require_POST
@owner_only
def bring_back(request: ShopRequest, unit: int) -> HttpResponse:
    undecide(keys=_row(request, unit).keys)
    return redirect("office:reminders")


def channels_of(row: DueRow) -> list[str]:
    """The ways that are open to this shop and this customer, the preferred one first."""
    can_mail = mail_is_set_up(row.unit.shop)
    return [channel for channel in row.channels if channel != Message.Channel.EMAIL or can_mail]


def stop_url(request: HttpRequest, customer: Customer) -> str:
    """The whole link; empty where the shop has no public address, and a letter says to call instead."""
    return link_for_customer(customer.shop, reverse("customer:stop", args=[stop_token(customer)]), request)


def _row(request: ShopRequest, unit: int) -> DueRow:
    row = due_row(request.shop, unit, timezone.localdate())
    if row is None:
        raise Http404
    return row
