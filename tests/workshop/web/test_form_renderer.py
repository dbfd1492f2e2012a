"""Controls written directly are the same HTML as Django's own templates make of them."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django import forms
from django.forms.renderers import DjangoTemplates
from django.test.html import parse_html
from hypothesis import given
from hypothesis import strategies as st

from workshop.web.form_renderer import DirectRenderer

DIRECT, BY_TEMPLATE = DirectRenderer(), DjangoTemplates()
HOSTILE = "\"><script>alert(1)</script>&amp;'`"
WIDGETS = [
    forms.TextInput(),
    forms.TextInput(attrs={"inputmode": "decimal", "autofocus": True, "disabled": False, "title": HOSTILE}),
    forms.NumberInput(),
    forms.EmailInput(),
    forms.PasswordInput(render_value=True),
    forms.HiddenInput(),
    forms.DateInput(attrs={"type": "date"}),
    forms.URLInput(),
    forms.Textarea(attrs={"rows": 3}),
    forms.Select(choices=[("", "–"), (1, "One"), ("two & more", HOSTILE)]),
    forms.Select(choices=[("Group", [("a", "A")]), ("b", "B")]),
    forms.CheckboxInput(),
    forms.RadioSelect(choices=[("a", "A"), ("b", HOSTILE)]),
]
VALUES: list[Any] = [None, "", "typed", HOSTILE, 0, 1, 2.5, dt.date(2026, 3, 1), "two & more", "a", "b", "\nline\n"]


@pytest.mark.parametrize("widget", WIDGETS, ids=lambda widget: type(widget).__name__)
@pytest.mark.parametrize("value", VALUES, ids=repr)
def test_the_same_as_by_template(widget: forms.Widget, value: Any) -> None:
    direct = widget.render("field-name", value, {"id": "id_field"}, DIRECT)
    assert parse_html(direct) == parse_html(widget.render("field-name", value, {"id": "id_field"}, BY_TEMPLATE))


@given(st.text(), st.text(alphabet=st.characters(categories=["L", "P", "S"])))
def test_nothing_typed_leaves_its_control(value: str, name: str) -> None:
    for widget in (forms.TextInput(), forms.Textarea()):
        html = widget.render(name, value, renderer=DIRECT)
        assert html == widget.render(name, value, renderer=BY_TEMPLATE)


def test_a_widget_with_a_template_of_its_own_keeps_it() -> None:
    widget = forms.ClearableFileInput()
    assert widget.render("photos", None, renderer=DIRECT) == widget.render("photos", None, renderer=BY_TEMPLATE)
