"""Office, Reminders, Sent: what waits, what left, what came back; letters to print."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Case, IntegerField, QuerySet, Value, When, prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_POST

from workshop.documents.rendering import PdfUnavailable
from workshop.reminders.delivery import MailNotSetUp, why_no_mail
from workshop.reminders.letter import letter_pdf
from workshop.reminders.models import Message
from workshop.reminders.queueing import call_off, mark_message_sent, send_again
from workshop.reminders.sending import outbox_of, send_waiting
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only
from workshop.web.stretch import stretch_of

PER_PAGE = 40
MOST_UNSETTLED = 200
AT_ONCE = 5
State = Message.State
_FIRST = (State.FAILED, State.UNCERTAIN, State.QUEUED, State.CLAIMED, State.HANDING_OVER)


@require_GET
@owner_only
def outbox(request: ShopRequest) -> HttpResponse:
    """What wants the owner first, then what waits, then the latest that left; `?before=` goes on with those."""
    urgency = Case(
        *(When(state=state, then=Value(place)) for place, state in enumerate(_FIRST)),
        default=Value(len(_FIRST)),
        output_field=IntegerField(),
    )
    before = key_from(request.GET.get("before"))
    unsettled = _messages(request).filter(state__in=_FIRST).annotate(urgency=urgency).order_by("urgency", "-pk")
    settled = _messages(request).exclude(state__in=_FIRST).order_by("-pk")
    if before is not None:
        settled = settled.filter(pk__lt=before)
    page = stretch_of(settled, PER_PAGE, key=lambda message: message.pk, is_later=before is not None)
    rows = [*([] if page.is_later else unsettled[:MOST_UNSETTLED]), *page.object_list]
    prefetch_related_objects(rows, "services")
    box = outbox_of(request.shop)
    context = {
        "rows": rows,
        "page": page,
        "box": box,
        "total": box.waiting,
        "handled": 0,
        "no_mail": why_no_mail(request.shop),
    }
    return render(request, "reminders/outbox.html", context)


@require_POST
@owner_only
def send(request: ShopRequest) -> HttpResponse:
    """Send the next few. With htmx the answer asks for the few after them, and shows how far it is."""
    try:
        report = send_waiting(shop=request.shop, most=AT_ONCE)
    except MailNotSetUp as wanting:
        if request.htmx:
            context = {"box": outbox_of(request.shop), "total": 0, "handled": 0, "no_mail": str(wanting)}
            return render(request, "reminders/_progress.html", context)
        messages.error(request, f"{wanting} Nothing was sent.")
        return redirect("office:reminders_outbox")
    box = outbox_of(request.shop)
    still = box.waiting + box.later + box.under_way
    total = max(key_from(request.POST.get("total")) or 0, report.handled + box.waiting)
    if request.htmx:
        stuck = report.handled == 0 and box.waiting > 0
        handled = max(total - still, 0)
        context = {"box": box, "total": total, "handled": handled, "going_on": box.waiting and not stuck}
        return render(request, "reminders/_progress.html", {**context, "report": report})
    if report.later:
        messages.warning(request, f"{report.later} could not be sent now and can be tried again in a few minutes.")
    messages.success(request, f"{report.sent} sent, {still} still wait.")
    return redirect("office:reminders_outbox")


@require_GET
@owner_only
def message(request: ShopRequest, pk: int) -> HttpResponse:
    return render(request, "reminders/message.html", {"message": _message(request, pk)})


@require_GET
@owner_only
def letter(request: ShopRequest, pk: int) -> HttpResponse:
    row = _message(request, pk)
    try:
        pdf = letter_pdf(row)
    except PdfUnavailable as problem:
        messages.error(request, str(problem))
        return redirect("office:reminders_outbox")
    name = content_disposition_header(False, f"reminder-{row.pk}.pdf")
    return HttpResponse(pdf, content_type="application/pdf", headers={"Content-Disposition": name})


@require_GET
@owner_only
def calendar(request: ShopRequest, pk: int) -> HttpResponse:
    row = _message(request, pk)
    name = content_disposition_header(True, "service.ics")
    return HttpResponse(
        row.calendar, content_type="text/calendar; charset=utf-8", headers={"Content-Disposition": name}
    )


@require_POST
@owner_only
def posted(request: ShopRequest, pk: int) -> HttpResponse:
    """A letter was posted, or an email that was cut off is known to have arrived."""
    if mark_message_sent(message=_message(request, pk)):
        messages.success(request, "Noted as sent.")
    return redirect("office:reminders_outbox")


@require_POST
@owner_only
def again(request: ShopRequest, pk: int) -> HttpResponse:
    row = _message(request, pk)
    if send_again(message=row):
        messages.success(request, f"It goes out again to {_whom(row)}, to the address as it is now.")
    else:
        messages.error(request, f"{_whom(row)} has no address now, has stopped reminders, or it left already.")
    return redirect("office:reminders_outbox")


@require_POST
@owner_only
def take_back(request: ShopRequest, pk: int) -> HttpResponse:
    row = _message(request, pk)
    is_ready = row.kind != Message.Kind.REMINDER
    if call_off(message=row):
        messages.success(request, "Cancelled." if is_ready else "Cancelled; the service is back on the list.")
    else:
        messages.error(request, "Too late: it has left already.")
    return redirect("office:reminders_outbox")


def _whom(message: Message) -> object:
    return message.order.supplier if message.order is not None else message.customer


def _messages(request: ShopRequest) -> QuerySet[Message]:
    rows = Message.objects.filter(shop=request.shop)
    return rows.select_related("customer", "unit__model", "order", "queued_by")


def _message(request: ShopRequest, pk: int) -> Message:
    return get_object_or_404(_messages(request).select_related("shop"), pk=pk)
