"""Labels for tickets and for parts on their shelves, many at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.paginator import Page, Paginator
from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods

from workshop.documents.label_sheet import MOST_LABELS, ON_A_SHEET, Tag, labels_pdf, tag_of_item, tag_of_ticket
from workshop.documents.rendering import LABEL_PAPERS, PdfUnavailable
from workshop.stock.stock_list import along_shelves, in_that_order, stock_of
from workshop.tickets.models import Ticket
from workshop.web.converters import key_from
from workshop.web.fields import WholeNumberField
from workshop.web.public_address import link_for_staff
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop

REFUSED = 422


class PaperForm(forms.Form):
    """On what, and how much of the first sheet is gone."""

    paper = forms.ChoiceField(label="Paper", choices=[(name, f"{name} labels") for name in LABEL_PAPERS])
    used = WholeNumberField(
        label="Labels gone from the first sheet",
        min_value=0,
        max_value=max(ON_A_SHEET.values()) - 1,
        required=False,
        error_messages={"invalid": "Enter a whole number, such as 0 or 5."},
    )

    def clean_used(self) -> int:
        return self.cleaned_data["used"] or 0


@dataclass(frozen=True)
class Choice:
    """A row of the list: its key, what it says, its label, and whether it is ticked at first."""

    pk: int
    words: str
    tag: Tag
    ticked: bool


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
def of_parts(request: ShopRequest) -> HttpResponse:
    """`?q=` finds the parts as the list of the stores does; along the shelves."""
    wanted = request.GET.get("q", "").strip()[:60]
    found = along_shelves(stock_of(request.shop, wanted=wanted))
    page = Paginator(found, MOST_LABELS).get_page(request.GET.get("page"))
    base = link_for_staff(request.shop, "/", request)
    choices = [
        Choice(
            item.pk,
            f"{item.shelf or 'no shelf'}: {item.part.number} {item.part.description}",
            tag_of_item(item, _at(base, reverse("stores:item", args=[item.pk]))),
            ticked=bool(wanted),
        )
        for item in in_that_order(list(page.object_list))
    ]
    return _page(request, choices, area="stores", wanted=wanted, page=page)


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
def of_tickets(request: ShopRequest) -> HttpResponse:
    """The tickets that are in the shop, the newest first; those booked in today are ticked."""
    tickets = Ticket.objects.of_shop(request.shop).open().for_rows().order_by("-number")
    page, today = Paginator(tickets, MOST_LABELS).get_page(request.GET.get("page")), timezone.localdate()
    base = link_for_staff(request.shop, "/", request)
    choices = [
        Choice(
            one.pk,
            f"{one.number}: {one.customer.name}, {one.unit.title}",
            tag_of_ticket(one, _at(base, reverse("bench:ticket", args=[one.number]))),
            ticked=timezone.localtime(one.booked_at).date() == today,
        )
        for one in page
    ]
    return _page(request, choices, area="counter", wanted="", page=page)


def _page(request: ShopRequest, choices: Sequence[Choice], *, area: str, wanted: str, page: Page[Any]) -> HttpResponse:
    form = PaperForm(request.POST if request.method == "POST" else None)
    chosen = _chosen(request.POST) if form.is_bound else {one.pk for one in choices if one.ticked}
    if form.is_valid():
        tags = [one.tag for one in choices if one.pk in chosen]
        made = _made(form, lambda: labels_pdf(shop=request.shop, tags=tags, **form.cleaned_data))
        if made is not None:
            return made
    context = {
        "form": form,
        "rows": [(one, one.pk in chosen) for one in choices],
        "area": area,
        "wanted": wanted,
        "page": page,
        "no_code": bool(choices) and not choices[0].tag.address,
    }
    return render(request, "printing/labels.html", context, status=REFUSED if form.is_bound else 200)


def _made(form: PaperForm, make: Callable[[], bytes]) -> HttpResponse | None:
    """The PDF; None where it cannot be, with the reason in the form."""
    try:
        pdf = make()
    except (ValueError, PdfUnavailable) as refused:
        form.add_error(None, str(refused))
        return None
    shown = {"Content-Disposition": content_disposition_header(False, "labels.pdf")}
    return HttpResponse(pdf, content_type="application/pdf", headers=shown)


def _at(base: str, path: str) -> str:
    """The address of a page where this shop is reached; "" where no tablet would find it."""
    return f"{base.rstrip('/')}{path}" if base else ""


def _chosen(data: QueryDict) -> set[int]:
    return {key for key in map(key_from, data.getlist("label")) if key is not None}
