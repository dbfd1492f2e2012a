"""Parts on a ticket: finding and adding them, and what becomes of each line."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from specs.models import Part, ServiceKit
from workshop.bench.part_forms import ByHandForm, KitForm, PriceForm, QuantityForm, first_error
from workshop.bench.part_search import find_parts, found_of
from workshop.charges.standing import charges_standing
from workshop.promise.expected import expected_on
from workshop.staff.roles import Right
from workshop.stock.moving import NotEnoughInStock
from workshop.tickets.access import ticket_of
from workshop.tickets.models import PartLine, Ticket
from workshop.web.converters import key_from
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.work.adding_parts import add_by_hand, add_from_kit
from workshop.work.old_parts import old_parts_of
from workshop.work.part_lines import (
    KeptForOthers,
    OutOfDate,
    PartLineRefused,
    QuantityChanged,
    drop_part_line,
    set_quantity,
    swap_part,
    take_up_again,
    use_part_line,
)
from workshop.work.part_prices import set_line_price
from workshop.work.parts_shown import lines_of, total_of
from workshop.work.service_kits import kits_of_services
from workshop.work.work import bench_ticket

REFUSED, CONFLICT = 422, 409
Status = PartLine.Status
_TYPED = {"line_typed": "quantity", "price_typed": "price"}
NO_BATCH = "none"
Change = Callable[..., PartLine]


@require_GET
@anyone_in_the_shop
def parts(request: ShopRequest, number: int) -> HttpResponse:
    the_ticket = bench_ticket(request.shop, number)
    return _show_parts(request, the_ticket)


@require_GET
@anyone_in_the_shop
def parts_and_charges(request: ShopRequest, number: int) -> HttpResponse:
    """What a ticket needs and costs: it follows the ticket's pages once they are there, and is a page of its own."""
    context = _parts_and_charges(ticket_of(request.shop, number))
    context["is_mechanic"] = request.user.may(Right.HAS_A_BENCH)
    template = "bench/_parts_and_charges.html" if request.htmx else "bench/parts_and_charges.html"
    return render(request, template, context)


@require_POST
@anyone_in_the_shop
@sent_once
def add(request: ShopRequest, number: int) -> HttpResponse:
    """A part from the list, or in words."""
    the_ticket = bench_ticket(request.shop, number)
    form = ByHandForm(request.POST)
    if form.is_valid():
        try:
            line = add_by_hand(ticket=the_ticket, by=request.user, **form.cleaned_data)
        except ValidationError as refused:
            form.take_errors(refused)
        else:
            messages.success(request, f"Added: {line.title}.")
            return redirect("bench:parts", number)
    part = form.cleaned_data.get("part")
    if part is not None:  # from the list: its row comes back, with what was typed and the reason
        typed = {"row_error": first_error(form), "row_typed": request.POST.get("quantity", "")[:40]}
        row = {"wanted": part.number, "found": found_of(request.shop, [part])}
        return _show_parts(request, the_ticket, REFUSED, **typed, **row)
    return _show_parts(request, the_ticket, REFUSED, by_hand_form=form)


@require_POST
@anyone_in_the_shop
def add_kit(request: ShopRequest, number: int) -> HttpResponse:
    the_ticket = bench_ticket(request.shop, number)
    form = KitForm(request.POST)
    if not form.is_valid():
        return _show_parts(request, the_ticket, REFUSED)
    try:
        lines = add_from_kit(ticket=the_ticket, level=form.cleaned_data["level"], by=request.user)
    except (PartLineRefused, ValidationError) as refused:
        messages.error(request, " ".join(getattr(refused, "messages", [str(refused)])))
    else:
        said = f"{len(lines)} added from the kit." if lines else "Everything in that kit is on the ticket already."
        messages.success(request, said)
    return redirect("bench:parts", number)


@require_POST
@anyone_in_the_shop
def quantity(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    form = QuantityForm(request.POST)
    if not form.is_valid():
        _line(request, number, pk)
        return _lines(request, number, error=first_error(form), error_pk=pk)
    return _change(request, number, pk, set_quantity, **form.cleaned_data)


@require_POST
@anyone_in_the_shop
def price(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    """The price each of a line that no price list knows; `free=1` says that it costs nothing."""
    data = request.POST.copy()
    if data.get("free") == "1":
        data["price"] = "0"
    form = PriceForm(data)
    if not form.is_valid():
        _line(request, number, pk)
        return _lines(request, number, error=first_error(form), error_pk=pk)
    cleaned = form.cleaned_data
    return _change(request, number, pk, set_line_price, price=cleaned["price"], seen=cleaned["seen"])


@require_POST
@anyone_in_the_shop
def drop_line(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    return _change(request, number, pk, drop_part_line)


@require_POST
@anyone_in_the_shop
def use_line(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    """`from` are the tickets that it is kept for and that may go short, as the question named them, and `out_of_date`
    the batches that are used all the same; `batch` is the one it is taken of, or “none”.
    """
    chosen = request.POST.get("batch", "")
    batch = key_from(chosen)
    return _change(
        request,
        number,
        pk,
        use_part_line,
        taking_from=_keys(request, "from"),
        of_batches=[batch] if batch is not None or chosen == NO_BATCH else [],
        out_of_date=_keys(request, "out_of_date"),
    )


def _keys(request: ShopRequest, name: str) -> list[int]:
    return [key for one in request.POST.getlist(name) if (key := key_from(one)) is not None]


@require_POST
@anyone_in_the_shop
def again(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    return _change(request, number, pk, take_up_again)


@require_POST
@anyone_in_the_shop
def swap(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    """A part that may stand in for the line's own."""
    other = Part.objects.filter(pk=key_from(request.POST.get("other")) or 0).first()
    return _change(request, number, pk, swap_part, other=other)


def _line(request: ShopRequest, number: int, pk: int) -> PartLine:
    lines = PartLine.objects.select_related("ticket", "part").filter(ticket__shop=request.shop, ticket__number=number)
    return get_object_or_404(lines, pk=pk)


def _change(request: ShopRequest, number: int, pk: int, change: Change, **values: Any) -> HttpResponse:
    line = _line(request, number, pk)
    try:
        change(line=line, by=request.user, **values)
    except QuantityChanged as changed:
        return _lines(request, number, error=str(changed), error_pk=pk, status=CONFLICT)
    except KeptForOthers as kept:
        return _lines(request, number, error=str(kept), error_pk=pk, status=CONFLICT, kept_for=kept.numbers)
    except OutOfDate as over:
        asked = {"kept_for": _keys(request, "from"), "out_of_date": [batch.pk for batch in over.batches]}
        return _lines(request, number, error=str(over), error_pk=pk, status=CONFLICT, **asked)
    except (PartLineRefused, NotEnoughInStock) as refused:
        return _lines(request, number, error=str(refused), error_pk=pk)
    except ValidationError as refused:
        return _lines(request, number, error=" ".join(refused.messages), error_pk=pk)
    return _lines(request, number)


def _lines(
    request: ShopRequest,
    number: int,
    error: str = "",
    error_pk: int | None = None,
    status: int = REFUSED,
    kept_for: Sequence[int] = (),
    out_of_date: Sequence[int] = (),
) -> HttpResponse:
    """The lines again; a refusal stands beside its line, with what to press where it can be done all the same."""
    asked = {"kept_for": kept_for, "out_of_date": out_of_date, "batch_chosen": request.POST.get("batch", "")[:20]}
    if request.htmx:
        the_ticket = ticket_of(request.shop, number)
        on_parts_page = (request.htmx.current_url_abs_path or "").startswith(_parts_url(number))
        context = lines_context(the_ticket) if on_parts_page else _parts_and_charges(the_ticket)
        context |= {"on_parts_page": on_parts_page, "line_error": error, "line_error_pk": error_pk}
        context |= asked
        context |= {name: request.POST.get(field, "")[:40] if error else "" for name, field in _TYPED.items()}
        template = "bench/_part_lines.html" if on_parts_page else "bench/_parts_and_charges.html"
        return render(request, template, context, status=status if error else 200)
    if error:
        refused: dict[str, Any] = {"line_error": error, "line_error_pk": error_pk} | asked
        refused |= {name: request.POST.get(field, "")[:40] for name, field in _TYPED.items()}
        return _show_parts(request, bench_ticket(request.shop, number), status, **refused)
    return redirect(f"{_parts_url(number)}#part-lines")


def _parts_url(number: int) -> str:
    return reverse("bench:parts", args=[number])


def lines_context(ticket: Ticket) -> dict[str, Any]:
    """What bench/_part_lines.html takes."""
    lines = lines_of(ticket)
    unpriced = sum(1 for shown in lines if shown.line.total is None and shown.line.status != Status.DROPPED)
    return {
        "ticket": ticket,
        "part_lines": lines,
        "parts_total": total_of(lines),
        "parts_unpriced": unpriced,
        "service_kits": kits_of_services(ticket),
        "expected_parts": expected_on(ticket),
    }


def _parts_and_charges(ticket: Ticket) -> dict[str, Any]:
    """What bench/_parts_and_charges.html takes."""
    context = lines_context(ticket)
    charged = charges_standing(ticket, [shown.line for shown in context["part_lines"]])
    return context | {"charged": charged, "old_parts": old_parts_of(ticket)}


def _show_parts(request: ShopRequest, ticket: Ticket, status: int = 200, **refused: Any) -> HttpResponse:
    wanted = request.GET.get("q", "").strip()[:60]
    kits = ServiceKit.objects.filter(model=ticket.unit.model_id).order_by("level") if ticket.unit.model_id else []
    context = lines_context(ticket) | {
        "on_parts_page": True,
        "wanted": wanted,
        "found": find_parts(request.shop, wanted) if wanted else [],
        "kits": kits,
        "by_hand_form": ByHandForm(initial={"quantity": "1"}),
        "is_mechanic": request.user.may(Right.WORK_AT_BENCH),
        **refused,
    }
    return render(request, "bench/parts.html", context, status=status)
