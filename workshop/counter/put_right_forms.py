"""Forms that put right what was booked or noted wrongly."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Q

from workshop.counter.finding import with_tickets
from workshop.counter.ticket_forms import AgreementForm
from workshop.customers.models import Bike, Customer
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.models import Ticket
from workshop.work.moving_over import LONGEST_REASON, Rightly


def reason_field(label: str = "Why") -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=LONGEST_REASON,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Say why; the history keeps it."},
    )


class RemoveForm(forms.Form):
    """Why a mark or a photo is removed."""

    reason = reason_field("Why it is removed")


class WordsForm(AgreementForm):
    """What was said and made of it, without the day and the price that were agreed."""

    promised_on = None  # type: ignore[assignment]  # how a form leaves out a field of the one it is made from
    price_ceiling = None  # type: ignore[assignment]
    no_limit_said = None  # type: ignore[assignment]
    reason = reason_field("Why it is changed")

    @classmethod
    def of(cls, ticket: Ticket) -> WordsForm:
        complaints = [complaint.pk for complaint in ticket.complaints.all()]
        initial = {"complaint_words": ticket.complaint_words, "notes": ticket.notes, "complaints": complaints}
        return cls(initial=initial, ticket=ticket)


class _UnitChoice(forms.ModelChoiceField[SuspensionUnit]):
    ticket: Ticket
    customer: Customer

    def label_from_instance(self, obj: Any) -> str:
        words = f"{obj.title}, {obj.serial or 'no serial'}"
        if obj.customer_id != self.customer.pk:
            return f"{words}: goes along to {self.customer}, it was entered under {obj.customer}"
        inside = obj.inside if obj.inside != self.ticket.number else None
        return f"{words}: in the shop already, on ticket {inside}" if inside else words


class _BikeChoice(forms.ModelChoiceField[Bike]):
    customer: Customer

    def label_from_instance(self, obj: Any) -> str:
        return str(obj) if obj.customer_id == self.customer.pk else f"{obj}: goes along to {self.customer}"


class RightlyForm(forms.Form):
    """Which of a customer's forks and bikes a ticket is of; the ticket's own can go along to another customer."""

    unit = _UnitChoice(
        label="Fork or shock",
        queryset=SuspensionUnit.objects.none(),
        widget=forms.RadioSelect,
        empty_label=None,
        error_messages={"required": "Choose the fork or shock.", "invalid_choice": "Choose one of those shown."},
    )
    bike = _BikeChoice(
        label="Bike",
        queryset=Bike.objects.none(),
        widget=forms.RadioSelect,
        empty_label="Came without a bike",
        blank=True,
        required=False,
        error_messages={"invalid_choice": "Choose one of those shown."},
    )
    answers_are_theirs = forms.BooleanField(required=False)
    reason = reason_field("Why it is moved")

    def __init__(self, *args: Any, ticket: Ticket, customer: Customer, was_answered: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.customer = customer
        units: Any = self.fields["unit"]
        bikes: Any = self.fields["bike"]
        units.ticket, units.customer, bikes.customer = ticket, customer, customer
        of_shop = SuspensionUnit.objects.filter(shop=ticket.shop_id)
        units.queryset = with_tickets(of_shop.filter(Q(customer=customer) | Q(pk=ticket.unit_id)))
        bikes.queryset = Bike.objects.filter(Q(customer=customer) | Q(pk=ticket.bike_id))
        if was_answered and customer != ticket.customer:
            self.fields[
                "answers_are_theirs"
            ].label = f"It was {customer} who answered the estimate, and who paid so far"
        else:
            del self.fields["answers_are_theirs"]

    @classmethod
    def of(cls, ticket: Ticket, customer: Customer, *, was_answered: bool) -> RightlyForm:
        # Of another customer nothing is chosen yet: that things go along is never meant by leaving it so.
        stays = customer == ticket.customer
        initial = {"unit": ticket.unit_id, "bike": ticket.bike_id or ""} if stays else {}
        return cls(initial=initial, ticket=ticket, customer=customer, was_answered=was_answered)

    @property
    def rightly(self) -> Rightly:
        """What was chosen. Only of a valid form."""
        return Rightly(self.customer, self.cleaned_data["unit"], self.cleaned_data["bike"])
