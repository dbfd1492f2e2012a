"""What a browser sends back of a form that nobody touched, as test data to change."""

from __future__ import annotations

from typing import Any

from django import forms


def as_sent(form: forms.Form, **changes: Any) -> dict[str, Any]:
    """Every field with its value, ticked boxes only, blank ones as blanks. Write a dot in a name as two underscores."""
    data: dict[str, Any] = {}
    for name, field in form.fields.items():
        value = form.get_initial_for_field(field, name)
        if isinstance(field, forms.BooleanField):
            if value:
                data[name] = "on"
        elif value is not None:
            data[name] = value
    return data | {name.replace("__", "."): value for name, value in changes.items()}
