"""The booking page's forms taken together: what is known, what is new, and what was agreed."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

from workshop.counter.customer_forms import (
    SHARES_PHONE,
    QuickBikeForm,
    QuickCustomerForm,
    shares_phone,
    show_shared_phone,
)
from workshop.counter.settings_forms import SettingsForm
from workshop.counter.ticket_forms import AgreementForm, ConditionForm, photos_field
from workshop.counter.unit_forms import QuickUnitForm
from workshop.counter.visit_forms import CameWithForm
from workshop.customers.merged import chosen_customer
from workshop.customers.models import Bike
from workshop.promise.heard import keep_heard
from workshop.promise.honest import HonestDay
from workshop.promise.squeezed import Pushed, keep_squeezed_in
from workshop.staff.models import Shop, User
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.booking import AgreedAtBooking, MarkSeen, sent_before
from workshop.tickets.intake import NewBike, NewCustomer, take_in
from workshop.tickets.models import Ticket
from workshop.web.converters import key_from
from workshop.web.folding import digits, fold

NEW = "new"
NONE = "none"
MARK_ROWS = 3


class ArrivalPhotosForm(forms.Form):
    photos = photos_field(required=False)
    photos.widget.attrs["hx-preserve"] = "true"  # the chosen files outlive a refusal


class MarkForm(ConditionForm):
    """A row for a mark; both halves or neither."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.update(empty_permitted=True, use_required_attribute=False)
        super().__init__(*args, **kwargs)


class IntakeForm:
    """The whole booking page.

    `data` is what was typed. Nothing is validated until `is_valid`, so the page can be shown again at any
    moment (while looking somebody up) with all that was typed and no errors.
    """

    def __init__(self, shop: Shop, data: QueryDict, files: MultiValueDict[str, Any] | None, today: dt.date) -> None:
        self.shop, self.today = shop, today
        self.data = data
        self.client_id = _uuid(data.get("client_id")) or uuid.uuid4()
        tickets = Ticket.objects.open().filter(shop=shop).select_related("customer", "visit")
        self.beside = _one(tickets, beside_key(data), "number")
        if self.beside is not None:
            self.data = data = _one_more_of(self.beside, data)
        self.customer = chosen_customer(shop, key_from(data.get("customer")))
        self.unit = _one(SuspensionUnit.objects.filter(shop=shop).select_related("model", "customer"), data.get("unit"))
        if self.customer is None and self.unit is not None and not data.get("customer-name", "").strip():
            self.customer = self.unit.customer
        self.bike = _one(Bike.objects.filter(customer=self.customer), data.get("bike")) if self.customer else None
        self.problems: list[str] = []
        self._files = files
        self._make_forms(bound=False)

    def _make_forms(self, *, bound: bool) -> None:
        def make(form: type[forms.Form], prefix: str, counts: bool = True, **extra: Any) -> Any:
            if bound and counts:
                return form(self.data, self._files, prefix=prefix, **extra)
            return form(prefix=prefix, initial=_as_typed(form, self.data, prefix, extra), **extra)

        self.customer_form = make(QuickCustomerForm, "customer", self.customer is None)
        self.unit_form = make(QuickUnitForm, "unit", self.unit is None, shop=self.shop)
        self.bike_form = make(QuickBikeForm, "bike", self._bike_is_new)
        self.agreement_form = make(AgreementForm, "ticket")
        self.arrival_form = make(SettingsForm, "arrival", shop=self.shop, travel_m=self._travel_m)
        self.mark_forms = [make(MarkForm, f"mark{row}") for row in range(MARK_ROWS)]
        self.photos_form = make(ArrivalPhotosForm, "arrived")
        self.visit_form = make(CameWithForm, "visit", self.beside is None)
        for form in self.all_forms:
            form.use_required_attribute = False

    @property
    def all_forms(self) -> list[forms.Form]:
        """All of them, in the order of the page."""
        return [
            self.customer_form, self.unit_form, self.bike_form, self.agreement_form, self.arrival_form,
            *self.mark_forms, self.photos_form, self.visit_form,
        ]  # fmt: skip

    @property
    def _travel_m(self) -> float | None:
        """The travel of the unit that is booked in, as it is on record or as it was typed just now."""
        if self.unit is not None:
            on_record: float | None = self.unit.travel_m
            return on_record
        self.unit_form.is_valid()
        travel_m: float | None = getattr(self.unit_form, "cleaned_data", {}).get("travel_m")
        return travel_m

    @property
    def bike_choice(self) -> str:
        """What is chosen among the bikes: an id, NEW or NONE; a bike that is described is meant to be new."""
        if self.bike is not None:
            return str(self.bike.pk)
        if self.data.get("bike") in (NEW, NONE):
            return str(self.data["bike"])
        return NEW if self.data.get("bike-description", "").strip() else ""

    @property
    def typed_serial(self) -> str:
        return str(self.data.get("unit-serial", ""))

    @property
    def names_somebody_else(self) -> bool:
        """Whether the name typed is not the chosen customer's, so that the page must say whose ticket it becomes."""
        words = fold(str(self.data.get("customer-name", ""))).split()
        return self.customer is not None and not all(word in self.customer.search_text for word in words)

    def leave_things_of_others(self, found_by_serial: Collection[int]) -> None:
        """Another person was chosen: the unit of the one before goes with them, unless its serial was looked for."""
        mine = self.customer.pk if self.customer is not None and self.data.get("customer") != NEW else None
        if self.unit is not None and self.unit.customer_id != mine and self.unit.pk not in found_by_serial:
            self.data = self.data.copy()
            self.data.pop("unit", None)
            self.unit = None
            if mine is None:
                self.customer = self.bike = None

    @property
    def photos_were_chosen(self) -> int:
        """How many photos came with this form; a browser drops them when the page is shown again."""
        return len([file for file in (self._files or MultiValueDict()).getlist("arrived-photos") if file])

    def is_valid(self) -> bool:
        """Validate what counts: a known customer, unit or bike needs none of the fields for a new one."""
        self._make_forms(bound=True)
        if self.customer_form.add_prefix(SHARES_PHONE) in self.data and self.customer_form.is_bound:
            self.customer_form.is_valid()
            shares_phone(self.customer_form)  # a tick stays where something else is refused
        self._check_owner()
        self._check_beside()
        return not self.is_refused

    def _check_owner(self) -> None:
        """A unit changes owners only when somebody says so, never because another name was chosen."""
        unit = self.unit
        if unit is None or (self.customer is not None and unit.customer_id == self.customer.pk):
            return
        if self.data.get("passes_on") != str(unit.pk):
            self.problems.append(
                f"{unit} is on record as {unit.customer}’s. Choose another, or tick that it has changed hands."
            )

    def _check_beside(self) -> None:
        beside = self.beside
        if beside is None and beside_key(self.data) is not None:
            self.problems.append("The ticket it came with is closed. Book it in alone: press again.")
            self.data = self.data.copy()
            del self.data["beside"]
        elif beside is not None and (self.customer is None or self.customer.pk != beside.customer_id):
            self.problems.append(
                f"Ticket {beside.number} is {beside.customer}’s, and a visit is of one customer. Choose them, or book "
                "it in alone."
            )

    @property
    def refused_forms(self) -> list[forms.Form]:
        """The forms with something to put right; before `is_valid` there are none."""
        return [form for form in self.all_forms if form.is_bound and not form.is_valid()]

    @property
    def is_refused(self) -> bool:
        return bool(self.refused_forms or self.problems)

    @property
    def _bike_is_new(self) -> bool:
        return self.bike_choice == NEW

    @property
    def was_booked(self) -> bool:
        """Whether this very form booked a ticket in already."""
        return sent_before(self.shop, self.client_id) is not None

    def take_in(self, by: User, honest: HonestDay, pushed: Sequence[Pushed] = ()) -> Ticket | None:
        """Book in, and keep the `honest` day that was heard, and the promises that were known to be `pushed`.

        None where a rule refused it; `problems` or forms say.
        """
        try:
            with transaction.atomic():
                ticket = take_in(
                    shop=self.shop,
                    by=by,
                    customer=self.customer or self._new_customer(),
                    unit=self.unit or self.unit_form.cleaned_data,
                    bike=self.bike or (NewBike(**self.bike_form.cleaned_data) if self._bike_is_new else None),
                    agreement=self._agreement(),
                    photos=self.photos_form.cleaned_data["photos"],
                    client_id=self.client_id,
                    beside=self.beside,
                    came_with=self.visit_form.came_with if self.visit_form.is_bound else None,
                )
                keep_heard(ticket=ticket, honest=honest)
                keep_squeezed_in(ticket=ticket, by=by, pushed=pushed)
                return ticket
        except ValidationError as error:
            self._show(error)
            return None

    def _agreement(self) -> AgreedAtBooking:
        rows = (form.cleaned_data for form in self.mark_forms if form.has_changed())
        return AgreedAtBooking(
            **self.agreement_form.cleaned_data,
            arrival=self.arrival_form.settings,
            marks=[MarkSeen(place=row["place"], text=row["text"]) for row in rows],
        )

    def _new_customer(self) -> NewCustomer:
        values = self.customer_form.cleaned_data
        ticked = self.data.get(self.customer_form.add_prefix(SHARES_PHONE)) == digits(values["phone"])
        return NewCustomer(**values, shares_phone=values["phone"] if ticked else "")

    def _show(self, error: ValidationError) -> None:
        show_shared_phone(self.customer_form, error)
        by_field: Mapping[str, Any] = error.error_dict if hasattr(error, "error_dict") else {"": error.error_list}
        for name, errors in by_field.items():
            form = next((form for form in self.all_forms if form.is_bound and name in form.fields), None)
            if form is not None:
                form.add_error(name, errors)
            else:
                self.problems += [message for one in errors for message in one.messages]


def beside_key(data: QueryDict) -> str | None:
    """The number of the ticket that came together with this one, as it was sent."""
    return data.get("beside") or None


def _one_more_of(beside: Ticket, data: QueryDict) -> QueryDict:
    """What was sent, with customer and promise of the ticket it came with where nothing else was typed."""
    filled = data.copy()
    if not data.get("customer") and not data.get("customer-name", "").strip():
        filled["customer"] = str(beside.customer_id)
    filled.setdefault("ticket-promised_on", beside.promised_on.isoformat())
    return filled


def _one(queryset: Any, key: str | None, column: str = "pk") -> Any:
    pk = key_from(key)
    return None if pk is None else queryset.filter(**{column: pk}).first()


def _uuid(text: str | None) -> uuid.UUID | None:
    try:
        return uuid.UUID(text or "")
    except ValueError:
        return None


def _as_typed(form: type[forms.Form], data: QueryDict, prefix: str, extra: Mapping[str, Any]) -> dict[str, Any]:
    """What was typed into a form, to show it again unread. A field that was not sent keeps its own initial value."""
    typed: dict[str, Any] = {}
    for name, field in form(prefix=prefix, **extra).fields.items():
        key = f"{prefix}-{name}"
        if key not in data:
            continue
        if isinstance(field, forms.MultipleChoiceField | forms.ModelMultipleChoiceField):
            typed[name] = data.getlist(key)
        elif isinstance(field, forms.BooleanField):
            typed[name] = True
        else:
            typed[name] = data[key]
    return typed
