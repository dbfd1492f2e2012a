"""Goods that came of an order, booked back where that was a slip; what goes back to the supplier, and its money."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from workshop.counter.saving import put_beside_fields, seen_version
from workshop.stock.amounts import measured
from workshop.stock.deliveries import bottles_of, in_measure, received_lately, sent_id_of
from workshop.stock.delivery_models import Delivery, SentBack, SupplierCredit
from workshop.stock.moving import NotEnoughInStock
from workshop.stock.order_standing import came_of
from workshop.stock.ordering import MoreThanOrdered, OrderClosed
from workshop.stock.purchase_models import OrderLine, PurchaseOrder
from workshop.stock.receiving import CameIn, DoubtfulPrice, book_delivery, book_delivery_back, unusable_of
from workshop.stock.sending_back import keep_after_all, note_credit, send_back, take_credit_back
from workshop.stock.shortages import stores_standing
from workshop.stock.typed_amounts import read_amounts
from workshop.stores.forms import _amount, once_field
from workshop.stores.order_page import BESIDES, order_of, show_order
from workshop.stores.typed_prices import meant_rows, read_prices, words_of_price
from workshop.tickets.models import Ticket
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.versions import StaleVersion

REFUSED, CONFLICT = 422, 409
STALE = "Somebody changed this order meanwhile. Look at it again first; nothing of yours is booked yet."


@require_POST
@anyone_in_the_shop
def receive(request: ShopRequest, number: int) -> HttpResponse:
    """Goods that came; what is empty did not come."""
    the_order = order_of(request, number)
    came, refused = _typed(request, the_order)
    if refused:
        return show_order(request, the_order, REFUSED, typed=request.POST, refused_fields=refused)
    here_before = _parts_here(request)
    try:
        book_delivery(
            order=the_order,
            seen_version=seen_version(request, "besides") or seen_version(request),
            came=came,
            by=request.user,
            sent_id=sent_id_of(request.POST.get("sent_id", "")),
            note=request.POST.get("delivery_note", ""),
            meant=meant_rows(request.POST),
        )
    except StaleVersion:
        the_order = order_of(request, number)
        said = f"{received_lately(the_order)} Nothing of yours is received yet."
        return show_order(request, the_order, CONFLICT, refusal=said, typed=request.POST, stale=True)
    except MoreThanOrdered as more:
        return show_order(request, order_of(request, number), REFUSED, typed=request.POST, refused_rows=more.reasons)
    except DoubtfulPrice as odd:
        return show_order(request, order_of(request, number), REFUSED, typed=request.POST, doubtful=odd.reasons)
    except (OrderClosed, ValidationError) as why:
        words = " ".join(getattr(why, "messages", [str(why)]))
        return show_order(request, order_of(request, number), REFUSED, refusal=words, typed=request.POST)
    messages.success(request, "Received: it is in the stores.")
    for ticket in Ticket.objects.filter(pk__in=_parts_here(request) - here_before).order_by("promised_on"):
        messages.info(request, f"The parts of ticket {ticket.number} are here. It can go on.")
    return redirect("stores:order", number)


def _typed(request: ShopRequest, order: PurchaseOrder) -> tuple[dict[int, CameIn], dict[str, str]]:
    """What was typed of each line by its key, and why some of it could not be read by the name of its field."""
    bottles = bottles_of(order)
    read = {name: in_measure(read_amounts(request.POST, name), bottles) for name in ("quantity", *BESIDES)}
    prices = read_prices(request.POST, "price")
    touched = {pk for one in read.values() for pk in (*one.amounts, *one.refused)}
    refused = {f"price-{pk}": reason for pk, reason in prices.refused.items() if pk in touched}
    for name, one in read.items():
        refused |= {f"{name}-{pk}": reason for pk, reason in one.refused.items()}
    came = {
        pk: CameIn(
            good=read["quantity"].amounts.get(pk, NOTHING_CAME.good),
            **{name: read[name].amounts.get(pk, NOTHING_CAME.good) for name in BESIDES},
            pack_price=prices.amounts.get(pk),
            note=words_of_price(request.POST, "note", pk),
            batch_number=words_of_price(request.POST, "batch", pk),
            use_by=_day(request.POST, pk, refused),
        )
        for pk in touched
    }
    return came, refused


def _day(data: QueryDict, pk: int, refused: dict[str, str]) -> dt.date | None:
    """The use-by day that was typed for a line; why it cannot be read goes beside its field."""
    try:
        typed: dt.date | None = forms.DateField(required=False).clean(data.get(f"use_by-{pk}", ""))
    except ValidationError:
        refused[f"use_by-{pk}"] = "Enter a day as 2026-12-24."
        return None
    return typed


NOTHING_CAME = CameIn()


def _parts_here(request: ShopRequest) -> set[int]:
    here = stores_standing(request.shop, with_quiet_items=False).parts_here()
    waiting = Ticket.objects.filter(pk__in=here, state=Ticket.State.WAITING, waiting_for=Ticket.WaitingFor.PARTS)
    return set(waiting.values_list("pk", flat=True))


@require_POST
@anyone_in_the_shop
def book_back(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    """A delivery was booked by mistake."""
    the_order = order_of(request, number)
    delivery = get_object_or_404(Delivery, order=the_order, pk=pk)
    return _counter(
        request,
        number,
        lambda: book_delivery_back(
            order=the_order, seen_version=seen_version(request), delivery=delivery,
            why=request.POST.get("why", ""), by=request.user,
        ),
        "Booked back: the stores show what was there before, and it is to come again.",
    )  # fmt: skip


def _counter(request: ShopRequest, number: int, act: Callable[[], object], said: str) -> HttpResponse:
    """Do the counter-entry, or say at the top of the order why not."""
    try:
        act()
    except StaleVersion:
        messages.error(request, STALE)
    except (ValidationError, NotEnoughInStock, OrderClosed) as why:
        messages.error(request, " ".join(getattr(why, "messages", [str(why)])))
    else:
        messages.success(request, said)
    return redirect("stores:order", number)


class BackForm(forms.Form):
    """What goes back, and whether another comes for it."""

    line = forms.ChoiceField(label="What goes back")
    quantity = _amount("How many")
    reason = forms.CharField(max_length=120, label="Why", error_messages={"required": "Say why it goes back."})
    replaced = forms.ChoiceField(
        label="What comes for it",
        choices=[("yes", "Others are sent"), ("no", "Its money, or nothing")],
        widget=forms.RadioSelect,
        error_messages={"required": "Choose what comes for it."},
    )
    sent_id = once_field()

    def __init__(self, order: PurchaseOrder, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = {line.pk: line for line in order.lines.select_related("item__part", "order")}
        came, unusable = came_of(order), unusable_of(order)
        choices = [
            (f"{what}-{line.pk}", f"{line.item.part.description}: {measured(amounts[line.pk], line.item.part)} {words}")
            for line in self.lines.values()
            for what, amounts, words in (
                (SentBack.What.UNUSABLE, unusable, "damaged or wrong"), (SentBack.What.GOOD, came, "received")
            )
            if amounts.get(line.pk)
        ]  # fmt: skip
        self.fields["line"].choices = [("", "Choose what goes back"), *choices]  # type: ignore[attr-defined]
        self.any = bool(choices)

    @property
    def chosen(self) -> tuple[str, OrderLine]:
        """What of which line. The form is valid."""
        what, _, pk = self.cleaned_data["line"].partition("-")
        return what, self.lines[int(pk)]


class CreditForm(forms.Form):
    """Money that the supplier gave back."""

    amount = _amount("Amount")
    note = forms.CharField(
        max_length=120, label="Credit note", error_messages={"required": "Enter its number, or what it is for."}
    )
    sent_id = once_field()


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
def give_back(request: ShopRequest, number: int) -> HttpResponse:
    """Send goods back, or with an `amount` note the money that came for them."""
    the_order = order_of(request, number)
    is_credit = "amount" in request.POST  # which of the two forms was sent
    posted = request.POST if request.method == "POST" else None
    back = BackForm(the_order, None if is_credit else posted, auto_id="back-%s")
    credit = CreditForm(posted if is_credit else None, auto_id="credit-%s")
    form: forms.Form = credit if is_credit else back
    status = REFUSED if form.is_bound else 200
    if form.is_bound and form.is_valid():
        try:
            said = _give_back(request, the_order, back, credit)
        except StaleVersion:
            form.add_error(None, STALE)
            status = CONFLICT
        except NotEnoughInStock as why:
            form.add_error("quantity", str(why))
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, said)
            return redirect("stores:order", number)
    the_order.refresh_from_db(fields=["version"])
    context = {"order": the_order, "back_form": back, "credit_form": credit,
               "currency": the_order.currency or the_order.shop.currency}  # fmt: skip
    return render(request, "stores/give_back.html", context, status=status)


def _give_back(request: ShopRequest, order: PurchaseOrder, back: BackForm, credit: CreditForm) -> str:
    if credit.is_bound:
        note_credit(order=order, seen_version=seen_version(request), by=request.user, **credit.cleaned_data)
        return "The credit is noted."
    what, line = back.chosen
    data = back.cleaned_data
    send_back(
        order=order, seen_version=seen_version(request), line=line, what=what, quantity=data["quantity"],
        reason=data["reason"], replaced=data["replaced"] == "yes", by=request.user, sent_id=data["sent_id"],
    )  # fmt: skip
    return "It goes back: the stores and the order know it."


@require_POST
@anyone_in_the_shop
def not_given_back(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    """It did not go back after all, or with `credit` the credit was a slip."""
    the_order = order_of(request, number)
    if "credit" in request.POST:
        credit = get_object_or_404(SupplierCredit, order=the_order, pk=pk)
        act: Callable[[], object] = lambda: take_credit_back(  # noqa: E731  one of two
            order=the_order, seen_version=seen_version(request), credit=credit, by=request.user
        )
        return _counter(request, number, act, "The credit is taken back.")
    back = get_object_or_404(SentBack.objects.filter(Q(line__order=the_order)), pk=pk)
    return _counter(
        request,
        number,
        lambda: keep_after_all(order=the_order, seen_version=seen_version(request), back=back, by=request.user),
        "It stays here: the stores and the order know it.",
    )
