"""Forms of the till: how a hand-over is paid, deposits and money paid back, discounts, opening again, the drawer."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from workshop.charges.models import Discount, LabourLine
from workshop.charges.warranty import words_of_line
from workshop.staff.models import Shop
from workshop.tickets.models import PartLine
from workshop.tickets.models.part_line import Warranty
from workshop.till.crediting import Creditable
from workshop.till.models import HandOver, Payment
from workshop.till.on_account import OpenReceipt
from workshop.till.taking import MONEY_KINDS, PaidPart
from workshop.web.fields import DecimalNumberField, KeptChoiceField
from workshop.web.number_words import plain_money, shop_money
from workshop.work.going_along import Beside
from workshop.work.hand_over import Along, HowPaid

ACCOUNT = Payment.Kind.ACCOUNT
_REASON_LENGTH = 200


def money_field(shop: Shop, label: str, *, above_zero: bool = True, **kwargs: Any) -> DecimalNumberField:
    """An amount in the shop's currency, to the cent."""
    least = Decimal("0.01") if above_zero else Decimal(0)
    words = "Enter an amount above zero." if above_zero else "This cannot be below zero."
    field = DecimalNumberField(
        label=label,
        min_value=least,
        max_digits=10,
        decimal_places=2,
        error_messages={
            "required": "Enter an amount, for example 80.",
            "invalid": "Enter an amount, for example 80 or 79.50.",
            "min_value": words,
        },
        **kwargs,
    )
    field.unit = shop.currency  # type: ignore[attr-defined]
    return field


class HandOversField(KeptChoiceField):
    """Tickets that were handed over, by number, unit and sum."""

    def label_from_instance(self, obj: Any) -> str:
        ticket = obj.ticket
        return f"Ticket {ticket.number}, {ticket.unit.title}, {shop_money(obj.gross, ticket.shop, obj.currency)}"


class ClientIdForm(forms.Form):
    """A form with an id of its own: sent twice, done once."""

    client_id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {"client_id": uuid.uuid4(), **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)


class PaidForm(ClientIdForm):
    """How it is paid as it is handed over. An empty amount is all that is due."""

    client_id = forms.UUIDField(widget=forms.HiddenInput, required=False)
    seen_due = forms.DecimalField(widget=forms.HiddenInput, required=False)
    with_receipt = forms.BooleanField(label="Issue the receipt", required=False, initial=True)

    def __init__(
        self,
        *args: Any,
        shop: Shop,
        due: Decimal,
        gross: Decimal,
        together: Sequence[HandOver],
        beside: Sequence[Beside] = (),
        **kwargs: Any,
    ) -> None:
        kwargs["initial"] = {"seen_due": due, **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
        self.own_due = due
        self._offer_what_goes_along(beside, shop)
        self.due = due = due + sum((one.due for one in self.goes_along), Decimal(0))
        gross += sum((one.gross for one in self.goes_along), Decimal(0))
        if due > 0:
            self._ask_how_it_is_paid(shop)
        elif due < 0:
            self.fields["back_by"] = forms.ChoiceField(
                label="Paid back by",
                choices=MONEY_KINDS,
                widget=forms.RadioSelect,
                error_messages={"required": "Say how it is paid back."},
            )
        if not gross:
            del self.fields["with_receipt"]
        elif together:
            chosen = HandOver.objects.filter(pk__in=[one.pk for one in together])
            self.fields["together"] = HandOversField(
                queryset=chosen.select_related("ticket__unit__model", "ticket__shop"),
                label="On the same receipt",
                required=False,
                widget=forms.CheckboxSelectMultiple,
            )

    def _offer_what_goes_along(self, beside: Sequence[Beside], shop: Shop) -> None:
        """Ticked are all that need nothing more; a value holds what was seen, so that what changed is not offered."""
        held = "money goes back for the one on this page" if self.own_due < 0 else ""
        self.by_itself = [(one.ticket, one.by_itself or held) for one in beside if one.by_itself or held]
        offered = {_seen(one): one for one in beside if not (one.by_itself or held)}
        sent = self.data.getlist("along") if self.is_bound else list(offered)  # type: ignore[attr-defined]
        self.goes_along = [one for value, one in offered.items() if value in sent]
        if offered or sent:
            self.fields["along"] = forms.MultipleChoiceField(
                label="Goes along, of the same visit",
                choices=[(value, _along_words(one, shop)) for value, one in offered.items()],
                initial=list(offered),
                required=False,
                widget=forms.CheckboxSelectMultiple,
                error_messages={
                    "invalid_choice": "What goes along changed since this page was opened. Look at it, and press again."
                },
            )

    @property
    def along(self) -> list[Along]:
        """What else is handed over with it; the form is valid."""
        return [Along(one.ticket, one.ticket.version) for one in self.goes_along]

    def clean_client_id(self) -> uuid.UUID:
        """A page without one hands over all the same; pressed twice, the second finds it handed back."""
        return self.cleaned_data["client_id"] or uuid.uuid4()

    def _ask_how_it_is_paid(self, shop: Shop) -> None:
        self.fields["pays_by"] = forms.ChoiceField(
            label="Paid by",
            choices=Payment.Kind.choices,
            widget=forms.RadioSelect,
            error_messages={"required": "Say how it is paid."},
        )
        self.fields["amount"] = money_field(shop, "Only this much of it", required=False)
        self.fields["given"] = money_field(shop, "Cash handed in", required=False)
        second = [("", "nothing more"), *Payment.Kind.choices]
        self.fields["rest_by"] = forms.ChoiceField(label="And the rest by", choices=second, required=False)

    @property
    def paid(self) -> HowPaid:
        """What the form says; it is valid."""
        said = self.cleaned_data
        together = list(said.get("together") or ())
        with_receipt = bool(said.get("with_receipt"))
        if self.due <= 0:
            return HowPaid(back_by=said.get("back_by", ""), with_receipt=with_receipt, together=together)
        kind, amount, rest_by = said["pays_by"], said["amount"], said["rest_by"]
        first = self.due if amount is None else amount
        given = said["given"] if kind == Payment.Kind.CASH else None
        parts = [] if kind == ACCOUNT else [PaidPart(kind, first, given)]
        rest = self.due - first
        if kind != ACCOUNT and rest > 0 and rest_by and rest_by != ACCOUNT:
            parts.append(PaidPart(rest_by, rest))
        on_account = ACCOUNT in (kind, rest_by)
        return HowPaid(parts, on_account=on_account, with_receipt=with_receipt, together=together)

    @property
    def change(self) -> Decimal:
        """What goes back into the customer's hand; the form is valid."""
        return sum((part.given - part.amount for part in self.paid.parts if part.given is not None), Decimal(0))


def _seen(one: Beside) -> str:
    return f"{one.ticket.number}:{one.ticket.version}:{plain_money(one.due)}"


def _along_words(one: Beside, shop: Shop) -> str:
    return f"Ticket {one.ticket.number}, {one.ticket.unit.title}, {shop_money(one.due, shop)}"


class PaymentForm(ClientIdForm):
    """A deposit, a part of it, or what was left open."""

    kind = forms.ChoiceField(
        label="Paid by",
        choices=MONEY_KINDS,
        widget=forms.RadioSelect,
        error_messages={"required": "Say how it is paid."},
    )

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"] = money_field(shop, "Amount")


class PayBackForm(PaymentForm):
    """Money that goes back."""

    reason = forms.CharField(
        label="Why it is paid back",
        max_length=_REASON_LENGTH,
        error_messages={"required": "Say why it is paid back."},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "back_%s", **kwargs})  # the page has another form of these fields
        self.fields["kind"].label = "Paid back by"


class CreditPartForm(ClientIdForm):
    """What of a receipt is taken back: lines of it, or an amount."""

    def __init__(self, *args: Any, shop: Shop, left: Creditable, **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "credit_%s", **kwargs})
        self.fields["lines"] = forms.TypedMultipleChoiceField(
            label="Lines of the receipt",
            choices=[
                (one.place, f"{one.title}, {shop_money(one.gross, shop)}") for one in left.lines if not one.credited
            ],
            coerce=int,
            required=False,
            widget=forms.CheckboxSelectMultiple,
            error_messages={"invalid_choice": "It was credited meanwhile. Look at what is left, and press again."},
        )
        self.fields["amount"] = money_field(shop, "Or an amount of it, with tax", required=False)
        self.fields["reason"] = forms.CharField(
            label="Why; the credit note prints it",
            max_length=_REASON_LENGTH,
            error_messages={"required": "Say why; the credit note prints it."},
        )
        self.fields["back_by"] = forms.ChoiceField(
            label="What was paid for it goes back by",
            choices=MONEY_KINDS,
            widget=forms.RadioSelect,
            required=False,
        )


class OpenSumsForm(PaymentForm):
    """One payment over what a customer has open."""

    def __init__(self, *args: Any, shop: Shop, rows: Sequence[OpenReceipt], **kwargs: Any) -> None:
        super().__init__(*args, shop=shop, **kwargs)
        self.shop = shop
        self.fields["chosen"] = forms.MultipleChoiceField(
            label="It pays",
            choices=[(row.seen, _open_words(row, shop)) for row in rows],
            initial=[row.seen for row in rows],
            widget=forms.CheckboxSelectMultiple,
            error_messages={
                "required": "Choose what it pays.",
                "invalid_choice": "One of these was paid or changed meanwhile. Look at what is open now.",
            },
        )
        self.fields["amount"] = money_field(shop, "Only this much of it", required=False)
        self.fields["given"] = money_field(shop, "Cash handed in", required=False)
        self.open = {row.seen: row.sum.amount for row in rows}

    @property
    def change_words(self) -> str:
        """What goes back into the customer's hand, as a sentence; the form is valid and was booked."""
        said = self.cleaned_data
        if said["kind"] != Payment.Kind.CASH or said["given"] is None:
            return ""
        paid = said["amount"] or sum((self.open[seen] for seen in said["chosen"]), Decimal(0))
        return f" Give {shop_money(said['given'] - paid, self.shop)} change." if said["given"] > paid else ""


def _open_words(row: OpenReceipt, shop: Shop) -> str:
    receipt = f", receipt {row.receipt}" if row.receipt else ""
    amount = shop_money(row.sum.amount, shop, row.sum.currency)
    return f"Ticket {row.sum.ticket.number}, {row.sum.ticket.unit.title}{receipt}: {amount}"


class OpenAgainForm(forms.Form):
    """Why what was handed over is opened again."""

    reason = forms.CharField(
        label="Why it is opened again; a credit note prints it",
        max_length=_REASON_LENGTH,
        error_messages={"required": "Say why it is opened again."},
    )


class PriceLineForm(forms.Form):
    """Something at a price of its own."""

    words = forms.CharField(label="What it is for", max_length=120, error_messages={"required": "Say what it is for."})

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "price_%s", **kwargs})
        self.fields["price"] = money_field(shop, "Price", above_zero=False)


class DiscountForm(forms.Form):
    """What is taken off, of what, and why."""

    off = forms.ChoiceField(label="It comes", choices=Discount.Off.choices)
    reason = forms.CharField(
        label="Why", max_length=120, error_messages={"required": "Say why; the receipt prints it."}
    )

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "off_%s", **kwargs})
        self.fields["amount"] = money_field(shop, "Taken off")
        self.order_fields(["amount", "off", "reason"])


class WarrantyForm(forms.Form):
    """Which line a warranty bears, and whose."""

    line = forms.ChoiceField(
        label="Work or part", error_messages={"invalid_choice": "That line was removed meanwhile. Choose another."}
    )
    warranty = forms.ChoiceField(
        label="Borne by",
        choices=[(value, str(label).capitalize()) for value, label in Warranty.choices],
        error_messages={"invalid_choice": "Choose who bears it."},
    )

    def __init__(self, *args: Any, lines: Sequence[LabourLine | PartLine], **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "warranty_%s", **kwargs})
        self.lines = {line_key(line): line for line in lines}
        choices = [(key, words_of_line(line)) for key, line in self.lines.items() if not line.warranty]
        self.fields["line"].choices = choices  # type: ignore[attr-defined]


def line_key(line: LabourLine | PartLine) -> str:
    """What an address or a form calls a line of either kind."""
    return f"{'labour' if isinstance(line, LabourLine) else 'part'}-{line.pk}"


class DrawerForm(forms.Form):
    """The drawer as it was counted."""

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["opening"] = money_field(shop, "In it when the day began", above_zero=False)
        self.fields["counted"] = money_field(shop, "Counted now", above_zero=False)
        self.fields["taken_out"] = money_field(shop, "Taken out to the bank", above_zero=False, required=False)
        self.fields["reason"] = forms.CharField(
            label="Why it does not agree", max_length=_REASON_LENGTH, required=False
        )

    def clean_taken_out(self) -> Decimal:
        return self.cleaned_data["taken_out"] or Decimal(0)


class MonthForm(forms.Form):
    """A month for the books."""

    month = forms.DateField(
        input_formats=["%Y-%m"],
        widget=forms.DateInput(attrs={"type": "month"}, format="%Y-%m"),
        error_messages={"required": "Choose a month.", "invalid": "Enter a month as 2026-03."},
    )
