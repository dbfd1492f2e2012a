"""What helps at a field is words: some of it is what the owner typed elsewhere, such as a mail server's name."""

from __future__ import annotations

import pytest
from django import forms
from django.template.loader import render_to_string


class Helped(forms.Form):
    name = forms.CharField(help_text="Left empty: <b>x</b> at “A & B”.", required=False)


@pytest.mark.parametrize("template", ["components/field.html", "components/reading.html"])
def test_markup_in_a_help_text_is_shown_as_it_was_typed(template: str) -> None:
    page = render_to_string(template, {"field": Helped()["name"]})
    assert "Left empty: &lt;b&gt;x&lt;/b&gt; at “A &amp; B”." in page
    assert "<b>" not in page
