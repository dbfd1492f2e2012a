"""No sentence of the framework under a field: what is wrong and what to do, in the shop's voice."""

from __future__ import annotations

import datetime as dt

import pytest
from django import forms
from django.core.validators import MaxValueValidator


class Everything(forms.Form):
    """A field of each kind, all of which must be filled in."""

    words = forms.CharField(max_length=3)
    number = forms.IntegerField(min_value=2, max_value=5)
    day = forms.DateField()
    one = forms.ChoiceField(choices=[("a", "A")])
    some = forms.MultipleChoiceField(choices=[("a", "A")])
    sure = forms.BooleanField()
    paper = forms.FileField()


def said(**typed: object) -> dict[str, str]:
    return {name: " ".join(map(str, errors)) for name, errors in Everything(typed).errors.items()}


def test_what_is_missing_is_asked_for_by_what_it_is() -> None:
    assert said() == {
        "words": "Enter this.",
        "number": "Enter this.",
        "day": "Enter this.",
        "one": "Choose one.",
        "some": "Choose at least one.",
        "sure": "Tick this to go on.",
        "paper": "Choose a file.",
    }


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("words", "abcd", "Shorten this to 3 characters; it has 4."),
        ("number", "1", "Enter 2 or more."),
        ("number", "6", "Enter 5 or less."),
        ("day", "soon", "Enter a day as 2026-11-30."),
        ("one", "b", "“b” is not in the list. Choose from it."),
        ("some", ["b"], "“b” is not in the list. Choose from it."),
    ],
)
def test_what_is_wrong_is_said_with_what_to_do(field: str, typed: object, words: str) -> None:
    assert said(**{field: typed})[field] == words


def test_a_form_that_says_more_keeps_its_own() -> None:
    class Promise(forms.Form):
        day = forms.DateField(error_messages={"required": "Choose the day that was promised."})
        minutes = forms.IntegerField(validators=[MaxValueValidator(9, "That is too long.")])

    errors = Promise({"day": "", "minutes": "10"}).errors
    assert errors["day"] == ["Choose the day that was promised."]
    assert errors["minutes"] == ["That is too long."]
    assert Promise({"day": dt.date(2026, 3, 1), "minutes": "9"}).is_valid()
