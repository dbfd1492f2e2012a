"""A question that a form asks back: a tick box that appears with the refusal, and holds for the one value it names."""

from __future__ import annotations

from typing import Any

from django import forms


class Checkbox(forms.CheckboxInput):
    """Ticked it sends the value it is about, so that a tick for one value is none for another typed later."""

    def __init__(self, meant: str) -> None:
        super().__init__(attrs={"value": meant})
        self.meant = meant

    def value_from_datadict(self, data: Any, files: Any, name: str) -> bool:
        return bool(data.get(name) == self.meant)

    def format_value(self, value: Any) -> str:
        return self.meant


def is_meant(form: forms.BaseForm, name: str, *, value: str, label: str, after: str = "") -> bool:
    """Whether the box `name` is ticked for this value; from now on the form shows it, behind the field `after`."""
    box = Checkbox(value)
    form.fields[name] = forms.BooleanField(label=label, required=False, widget=box)
    if after in form.fields:
        order = [key for key in form.fields if key != name]
        order.insert(order.index(after) + 1, name)
        form.order_fields(order)
    return box.value_from_datadict(form.data, None, form.add_prefix(name))
