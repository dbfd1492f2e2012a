"""Forms of batches."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django import forms

from workshop.stock.amounts import unit_of_stock
from workshop.stock.batch_models import Batch
from workshop.stores.forms import _amount, once_field
from workshop.web.number_words import figures


def number_field(*, required: bool = True) -> forms.CharField:
    return forms.CharField(
        label="Batch number",
        max_length=40,
        required=required,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Enter the number on the bottle or box."},
    )


def day_field(label: str, *, required: bool = False, help_text: str = "") -> forms.DateField:
    return forms.DateField(
        label=label,
        required=required,
        help_text=help_text,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Enter a day as 2026-12-24.", "required": "Enter the day."},
    )


class _BatchForm(forms.Form):
    """A form on the page of a batch; what it asks an amount of is named by `amount`."""

    amount = ""

    def __init__(self, batch: Batch, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.amount and (unit := unit_of_stock(batch.item.part)):
            self.fields[self.amount].unit = unit  # type: ignore[attr-defined]


class OpenForm(_BatchForm):
    """A bottle is opened."""

    amount = "quantity"
    quantity = _amount("How much is in it", required=False, help_text="If blank: all that is there of this batch.")
    opened_on = day_field("Opened on", required=True)
    use_by = day_field("Use by, now that it is open", help_text="If blank: opening changes nothing.")

    @classmethod
    def of(cls, batch: Batch, level: Decimal, today: dt.date) -> OpenForm:
        bottle = batch.item.part.bottle_ml
        holds = figures(bottle) if bottle is not None and bottle < level else ""
        return cls(batch, initial={"opened_on": today, "quantity": holds}, auto_id="open-%s")


class CountBatchForm(_BatchForm):
    amount = "counted"
    counted = _amount("How much of it is there", least="0")
    note = forms.CharField(required=False, max_length=120, label="Remark")


class SpilledForm(_BatchForm):
    amount = "quantity"
    quantity = _amount("How much of it is gone")
    sent_id = once_field()
    note = forms.CharField(
        max_length=120, label="Why", error_messages={"required": "Say why, such as “spilled” or “out of date”."}
    )


class BatchForm(_BatchForm):
    """What was written down of it."""

    batch_number = number_field()
    use_by = day_field("Use by", help_text="If blank, it is not known.")
    opened_on = day_field("Opened on", help_text="If blank: it was not opened.")

    def __init__(self, batch: Batch, *args: Any, **kwargs: Any) -> None:
        super().__init__(batch, *args, **kwargs)
        if batch.opened_on is None:
            del self.fields["opened_on"]

    @classmethod
    def of(cls, batch: Batch) -> BatchForm:
        initial = {"batch_number": batch.number, "use_by": batch.use_by, "opened_on": batch.opened_on}
        return cls(batch, initial=initial, auto_id="correct-%s")


class PutIntoForm(forms.Form):
    """Of which batch something is that stands there without one."""

    batch_number = number_field()
    use_by = day_field("Use by", help_text="If blank, it is not known.")
    quantity = _amount("How much of it is there")
