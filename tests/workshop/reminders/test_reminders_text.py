"""The wording of reminders: fields filled in, unknown ones refused, nothing smuggled into a header."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.reminders.text import DEFAULT_BODY, DEFAULT_SUBJECT, FIELDS, TextRefused, check_text, fill
from workshop.web.plain_text import one_line

VALUES = dict.fromkeys(FIELDS, "x")


def test_fields_are_filled_in() -> None:
    assert fill("Hello {customer}, {{braces}} stay", {"customer": "Ines"}) == "Hello Ines, {braces} stay"


def test_the_usual_text_uses_known_fields_only() -> None:
    check_text(DEFAULT_SUBJECT)
    check_text(DEFAULT_BODY)


def test_a_value_with_braces_means_nothing() -> None:
    assert fill("{customer}", {"customer": "{shop.secret}"}) == "{shop.secret}"


@pytest.mark.parametrize(
    "text", ["{price}", "{customer.pk}", "{customer[0]}", "{customer!r}", "{customer:>10}", "{}", "{0}"]
)
def test_an_unknown_field_is_refused_by_name(text: str) -> None:
    with pytest.raises(TextRefused, match="There is no field"):
        check_text(f"Hello {text}")


@pytest.mark.parametrize("text", ["a { b", "a } b", "{customer"])
def test_a_lone_brace_is_refused(text: str) -> None:
    with pytest.raises(TextRefused, match="lone brace"):
        check_text(text)


@given(st.text())
def test_one_line_is_one_line(text: str) -> None:
    line = one_line(text)
    assert line.splitlines() in ([line], [])
    assert line.isprintable()


@given(st.text(max_size=60))
def test_a_text_is_filled_or_refused(text: str) -> None:
    try:
        check_text(text)
    except TextRefused:
        return
    assert isinstance(fill(text, VALUES), str)
