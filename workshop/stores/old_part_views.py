"""Old parts: those of a ticket, and all that the shop still has."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from workshop.counter.saving import put_beside_fields, seen_version
from workshop.stock.old_part_models import OldPart
from workshop.tickets.access import ticket_of
from workshop.tickets.models import Ticket
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.versions import StaleVersion
from workshop.work.old_parts import AWAY, change_old_part, keep_old_part, old_parts_here, old_parts_of

ROWS_A_PAGE = 50
REFUSED, CONFLICT = 422, 409


class KeepOldPartForm(forms.Form):
    """A part that came off."""

    words = forms.CharField(label="What came off", max_length=120, error_messages={"required": "Say which part it is."})


class OldPartForm(forms.Form):
    """Where it is now."""

    state = forms.ChoiceField(
        label="Where it is", choices=OldPart.State.choices, error_messages={"invalid_choice": "Choose where it is."}
    )
    note = forms.CharField(label="Who agreed, or where it was sent", max_length=120, required=False, empty_value="")
    agreed_on = forms.DateField(
        label="Agreed on",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Only for what is thrown away.",
        error_messages={"invalid": "Enter a day as 2026-12-24."},
    )


@require_GET
@anyone_in_the_shop
def old_parts(request: ShopRequest) -> HttpResponse:
    """All that the shop still has or waits for, or with `show=away` what is away for warranty."""
    away = request.GET.get("show") == "away"
    there = old_parts_here(request.shop, AWAY) if away else old_parts_here(request.shop)
    page = Paginator(there, ROWS_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "stores/old_parts.html", {"page": page, "away": away})


@require_GET
@anyone_in_the_shop
def of_ticket(request: ShopRequest, number: int) -> HttpResponse:
    return _page(request, _ticket(request, number))


@require_POST
@anyone_in_the_shop
@sent_once
def keep(request: ShopRequest, number: int) -> HttpResponse:
    ticket = _ticket(request, number)
    form = KeepOldPartForm(request.POST)
    if form.is_valid():
        keep_old_part(ticket=ticket, by=request.user, **form.cleaned_data)
        return redirect("stores:ticket_old_parts", number)
    return _page(request, ticket, REFUSED, keep_form=form)


@require_POST
@anyone_in_the_shop
def change(request: ShopRequest, pk: int) -> HttpResponse:
    part = get_object_or_404(OldPart.objects.select_related("ticket__shop"), pk=pk, ticket__shop=request.shop)
    form = _form(part, request.POST)
    if form.is_valid():
        try:
            change_old_part(part=part, seen_version=seen_version(request), by=request.user, **form.cleaned_data)
        except StaleVersion:
            conflict = f"Somebody changed “{part.words}” meanwhile. It is shown as it is now."
            return _page(request, _ticket(request, part.ticket.number), CONFLICT, conflict=conflict)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            return redirect("stores:ticket_old_parts", part.ticket.number)
    return _page(request, _ticket(request, part.ticket.number), REFUSED, refused={pk: form}, change_form=form)


def _ticket(request: ShopRequest, number: int) -> Ticket:
    return ticket_of(request.shop, number, Ticket.objects.with_names().select_related("shop"))


def _form(part: OldPart, data: Any = None) -> OldPartForm:
    initial = {"state": part.state, "note": part.note, "agreed_on": part.agreed_on}
    return OldPartForm(data, initial=initial, auto_id=f"old-part-{part.pk}-%s")


def _page(
    request: ShopRequest, ticket: Ticket, status: int = 200, refused: dict[int, OldPartForm] | None = None, **more: Any
) -> HttpResponse:
    rows = [(part, (refused or {}).get(part.pk) or _form(part)) for part in old_parts_of(ticket)]
    context = {"ticket": ticket, "rows": rows, "keep_form": KeepOldPartForm(), **more}
    return render(request, "stores/ticket_old_parts.html", context, status=status)
