"""The customer's page. No login: the secret in the address opens one ticket and nothing else."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.translation import gettext, ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from workshop.customers.language import speaking_to
from workshop.documents.issuing import stored_pdf
from workshop.intervals.gpx import GpxRefused
from workshop.intervals.models import Ride, WeeklyHours
from workshop.intervals.riding import keep_rides, say_weekly_hours
from workshop.intervals.sent import TracksWait, read_sent_tracks
from workshop.links.links import LinkEnded, NoSuchLink
from workshop.links.models import CustomerLink
from workshop.links.trying import MOST_WRONG, TooManyTried, open_link_from, where_from
from workshop.portal.forms import TracksForm, WeeklyHoursForm
from workshop.portal.page import customer_page, report_of
from workshop.reminders.opt_out import stop_token
from workshop.staff.models import Shop
from workshop.staff.stopped_shops import ShopStopped
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.models import Photo, Ticket
from workshop.web.handing_out import hand_out
from workshop.web.no_error import as_no_error
from workshop.web.refused_uploads import WAIT, Sender
from workshop.web.request_id import shop_is_served
from workshop.web.uploads import file_name

P = ParamSpec("P")
REFUSED, TOO_OFTEN, GONE, NOT_NOW = 422, 429, 410, 503
# What an open link lets in on one day, so that a leaked one cannot fill the disk or keep the server busy.
MOST_SAID_A_DAY = 20
MOST_RIDES_A_DAY = 1000
MOST_POINTS = 120_000


def for_link_holder(
    view: Callable[Concatenate[HttpRequest, str, CustomerLink, P], HttpResponse],
) -> Callable[Concatenate[HttpRequest, str, P], HttpResponse]:
    """Let in whoever holds a good secret, by the shop's clock; nothing of it is cached."""

    @login_not_required
    @never_cache
    @wraps(view)
    def checked(request: HttpRequest, secret: str, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        try:
            link = open_link_from(secret, where=where_from(request), seen=request.method == "GET")
        except TooManyTried as waiting:
            return _sealed(too_many_tried(request, waiting))
        except NoSuchLink:
            return _sealed(render(request, "portal/no_such_link.html", status=404))
        except LinkEnded as ended:
            context = {
                "shop": ended.link.ticket.shop,
                "withdrawn": ended.link.withdrawn_at is not None,
                "link_ended": True,
            }
            with speaking_to(ended.link.ticket.customer):
                return _sealed(render(request, "portal/link_ended.html", context, status=410))
        except ShopStopped as stopped:
            return _sealed(_not_open(request, stopped.shop))
        shop_is_served(link.ticket.shop_id)
        ticket = link.ticket
        with timezone.override(zoneinfo.ZoneInfo(ticket.shop.time_zone)), speaking_to(ticket.customer):
            return _sealed(view(request, secret, link, *args, **kwargs))

    return cast("Callable[Concatenate[HttpRequest, str, P], HttpResponse]", checked)


def too_many_tried(request: HttpRequest, waiting: TooManyTried) -> HttpResponse:
    """Who has to wait and how long, whatever was asked for."""
    context = {"limit": MOST_WRONG, "minutes": waiting.minutes}
    answer = render(request, "portal/too_many_links.html", context, status=TOO_OFTEN)
    answer["Retry-After"] = str(waiting.seconds)
    return answer


def _not_open(request: HttpRequest, shop: Shop) -> HttpResponse:
    """What a customer is told while the shop is suspended, or once it is closed: not why."""
    status = GONE if shop.closed_at is not None else NOT_NOW
    return as_no_error(
        render(request, "portal/shop_stopped.html", {"shop": shop, "shop_name": shop.name}, status=status)
    )


def _sealed(response: HttpResponse) -> HttpResponse:
    # The shop's policy `same-origin` keeps the secret from other sites; `no-referrer` would make every form fail CSRF.
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response


@require_safe
@for_link_holder
def page(request: HttpRequest, secret: str, link: CustomerLink) -> HttpResponse:
    return show_page(request, secret, link.ticket)


@require_safe
@for_link_holder
def report(request: HttpRequest, secret: str, link: CustomerLink) -> HttpResponse:
    """The newest customer report, as it was issued."""
    document = report_of(link.ticket)
    pdf = stored_pdf(document) if document else None
    if pdf is None:
        raise Http404
    name = f"report-{link.ticket.number}.pdf"
    return HttpResponse(
        pdf, content_type="application/pdf", headers={"Content-Disposition": content_disposition_header(False, name)}
    )


@require_safe
@for_link_holder
def photo(request: HttpRequest, secret: str, link: CustomerLink, pk: int, size: str) -> HttpResponse:
    """A photo that the shop has chosen for the customer."""
    row = get_object_or_404(Photo, pk=pk, ticket=link.ticket, for_customer=True)
    return hand_out(row.thumbnail.name if size == "small" else row.file.name, content_type="image/jpeg")


@require_POST
@for_link_holder
def say_hours(request: HttpRequest, secret: str, link: CustomerLink) -> HttpResponse:
    """A weekly figure that holds from today."""
    form = WeeklyHoursForm(request.POST)
    unit = _unit_to_report_on(link.ticket)
    today = timezone.localdate()
    if WeeklyHours.objects.filter(unit=unit, at__date=today, said_by_customer=True).count() >= MOST_SAID_A_DAY:
        form.add_error(None, gettext("That is often enough for one day. Call us if a figure is wrong."))
    if form.is_valid():
        try:
            say_weekly_hours(unit=unit, since=today, by=None, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, gettext("Thank you. We count with it from today."))
            return redirect("customer:page", secret)
    return show_page(request, secret, link.ticket, hours_form=form, status=REFUSED)


@require_POST
@for_link_holder
def send_tracks(request: HttpRequest, secret: str, link: CustomerLink) -> HttpResponse:
    """Rides from a device."""
    form = TracksForm(request.POST, request.FILES)
    unit = _unit_to_report_on(link.ticket)
    today = Ride.objects.filter(unit=unit, at__date=timezone.localdate(), sent_by_customer=True)
    if form.is_valid() and today.count() >= MOST_RIDES_A_DAY:
        form.add_error("tracks", gettext("That is enough for one day. Send the rest tomorrow."))
    sender = Sender.of(request, link.pk)
    if form.is_valid() and sender.has_to_wait:
        form.add_error("tracks", " ".join([gettext(WAIT), gettext("Call us, and we will help you.")]))
        return show_page(request, secret, link.ticket, tracks_form=form, status=TOO_OFTEN)
    if form.is_valid():
        file = form.cleaned_data["tracks"]
        try:
            read = read_sent_tracks(file, name=file_name(file), now=timezone.now(), most_points=MOST_POINTS)
        except TracksWait as busy:
            form.add_error("tracks", str(busy))
        except GpxRefused as refused:
            sender.was_refused()
            form.add_error("tracks", str(refused))
        else:
            kept = keep_rides(unit=unit, rides=read.rides, by=None, sent_by_customer=True)
            say_what_was_kept(request, kept.added, kept.hours, kept.already_there, read.refused)
            return redirect("customer:page", secret)
    return show_page(request, secret, link.ticket, tracks_form=form, status=REFUSED)


def say_what_was_kept(request: HttpRequest, added: int, hours: float, known: int, refused: list[str]) -> None:
    """Messages after an upload: what counted, what was there already, and each refusal with its reason."""
    if added:
        counted = ngettext(
            "One ride counted, %(hours)s hours of moving.", "%(rides)s rides counted, %(hours)s hours of moving.", added
        )
        messages.success(request, counted % {"rides": added, "hours": f"{hours:.1f}"})
    if known:
        before = ngettext("One ride was counted before.", "%(rides)s rides were counted before.", known)
        messages.info(request, before % {"rides": known})
    for reason in refused[:5]:
        messages.warning(request, reason)
    if len(refused) > 5:
        more = len(refused) - 5
        left = ngettext("%(files)s more file could not be counted.", "%(files)s more files could not be counted.", more)
        messages.warning(request, left % {"files": more})


def show_page(request: HttpRequest, secret: str, ticket: Ticket, *, status: int = 200, **forms: object) -> HttpResponse:
    context = {
        "page": customer_page(ticket),
        "ticket": ticket,
        "shop": ticket.shop,
        "shop_name": ticket.shop.name,
        "customer": ticket.customer,
        "stop_token": stop_token(ticket.customer),
        "secret": secret,
        "hours_form": WeeklyHoursForm(),
        "tracks_form": TracksForm(),
        **forms,
    }
    return render(request, "portal/page.html", context, status=status)


def _unit_to_report_on(ticket: Ticket) -> SuspensionUnit:
    """The ticket's unit, as long as it is still the customer's. Raises Http404."""
    if ticket.unit.customer_id != ticket.customer_id:
        raise Http404
    return ticket.unit
