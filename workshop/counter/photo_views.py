"""Photos of a ticket: adding them, and serving them to the shop they belong to and nobody else."""

from __future__ import annotations

from http import HTTPStatus

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from workshop.counter.saving import REFUSED
from workshop.counter.ticket_forms import PhotosForm
from workshop.counter.ticket_page import ticket_context, whole_ticket
from workshop.tickets.access import ticket_of
from workshop.tickets.models import Photo
from workshop.tickets.photos import add_photo, choose_photo
from workshop.web.handing_out import hand_out
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop

_A_DAY = 24 * 3600
_CHOSEN = "The customer’s page shows this photo, and so do papers printed from now on."
_TAKEN_BACK = "The photo is not for the customer any more. Papers already printed keep it."


@require_POST
@anyone_in_the_shop
def add_photos(request: ShopRequest, number: int) -> HttpResponse:
    the_ticket = ticket_of(request.shop, number)
    form = PhotosForm(request.POST, request.FILES)
    if not form.is_valid():
        context = ticket_context(whole_ticket(request.shop, number), photos_form=form)
        return render(request, "counter/ticket.html", context, status=REFUSED)
    with transaction.atomic():
        for photo in form.cleaned_data["photos"]:
            add_photo(ticket=the_ticket, by=request.user, photo=photo, caption=form.cleaned_data["caption"])
    count = len(form.cleaned_data["photos"])
    messages.success(request, "The photo is kept." if count == 1 else f"{count} photos are kept.")
    return redirect(f"{reverse('counter:ticket', args=[number])}#photos")


@require_POST
@anyone_in_the_shop
def show_photo(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    """Choose a photo for the customer's page and papers as one of before or after the work, or take that back."""
    row = get_object_or_404(Photo.objects.select_related("ticket"), pk=pk, ticket=ticket_of(request.shop, number))
    try:
        choose_photo(photo=row, by=request.user, moment=request.POST.get("moment", ""))
    except ValidationError:
        messages.error(request, "Choose before or after the work, or not for the customer.")
    else:
        messages.success(request, _CHOSEN if row.for_customer else _TAKEN_BACK)
    return redirect(f"{reverse('counter:ticket', args=[number])}#photos")


@require_GET
@anyone_in_the_shop
def photo(request: ShopRequest, pk: int) -> HttpResponse:
    return _serve(request, pk, small=False)


@require_GET
@anyone_in_the_shop
def small_photo(request: ShopRequest, pk: int) -> HttpResponse:
    return _serve(request, pk, small=True)


def _serve(request: ShopRequest, pk: int, *, small: bool) -> HttpResponse:
    """The picture as JPEG. Its bytes never change, so a browser may keep them a day, where signing out takes them away:
    over plain HTTP no browser heeds that it is to forget.
    """
    row = get_object_or_404(Photo, pk=pk, ticket__shop=request.shop)
    response = hand_out(row.thumbnail.name if small else row.file.name, content_type="image/jpeg")
    kept = request.is_secure() and response.status_code == HTTPStatus.OK
    response["Cache-Control"] = f"private, max-age={_A_DAY}, immutable" if kept else "no-store"
    return response
