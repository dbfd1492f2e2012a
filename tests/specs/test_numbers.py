"""Reading typed numbers: what the app writes reads back, what is plain is read, what could be two is asked.

Outside check: where a text follows one plain notation, Python's own Decimal on the text with its groups taken out and
its decimal sign made a point (the notations as ISO 80000-1, 7.3, and the Swiss federal rules have them, from memory).
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.numbers import LONGEST, NO_NUMBER, TWO_READINGS, NumberRefused, read_number, split_number
from specs.units import _DECIMALS, DIMENSIONS, NumberUnclear, UnitError, from_si, number_text, parse, show, to_si
from workshop.web.number_words import figures, plain_price

AMOUNTS = st.decimals(min_value=0, max_value=9_999_999, places=2)


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("1,440", "1440"), ("1,500", "1500"), ("12,50", "12.50"), ("1200,50", "1200.50"), ("1.440,5", "1440.5"),
        ("1,440.5", "1440.5"), ("1 200,50", "1200.50"), ("1\u00a0200,50", "1200.50"), ("1\u202f200", "1200"),
        ("1'200", "1200"), ("1’200.50", "1200.50"), ("1.440.000", "1440000"), ("1,440,000.5", "1440000.5"),
        ("0,125", "0.125"), ("0.125", "0.125"), ("1440.125", "1440.125"), ("1440,125", "1440.125"), (".5", "0.5"),
        (",5", "0.5"), ("12.", "12"), ("+3", "3"), ("−7,5", "-7.5"), ("- 4", "-4"), ("  82 ", "82"), ("007", "7"),
        ("1 200,500", "1200.5"), ("1,2345", "1.2345"),
    ],
)  # fmt: skip
def test_what_can_mean_one_thing_only_is_read(typed: str, number: str) -> None:
    assert read_number(typed) == Decimal(number)


@pytest.mark.parametrize(
    ("typed", "decimals", "one", "other"),
    [
        ("1.500", 2, "1.5", "1500"), ("1.000", 2, "1", "1000"), ("-1.400", 0, "-1.4", "-1400"),
        ("1.125", 2, "1.1250", "1125"), ("1,500", 3, "1.5", "1500"), ("12,125", 4, "12.1250", "12125"),
    ],
)  # fmt: skip
def test_what_could_be_two_is_asked_and_either_answer_is_read(typed: str, decimals: int, one: str, other: str) -> None:
    with pytest.raises(NumberRefused) as refused:
        read_number(typed, decimals=decimals)
    assert refused.value.code == TWO_READINGS
    assert str(refused.value) == f"“{typed}” could be {one} or {other}. Enter {one} or {other}."
    assert read_number(one, decimals=decimals) == Decimal(one)
    assert read_number(other, decimals=decimals) == Decimal(other)


@pytest.mark.parametrize(
    "typed",
    [
        "", " ", "-", ",", "1,44,000", "1.44.000", "1,440,00", "12,3456,789", "1.440,5,0", "1 20", "1 200'000",
        "1''200", "1e9", "1e5", "NaN", "Infinity", "-Infinity", "٣", "１", "²", "1/2", "--1", "0x10", "1_000",
        "9" * (LONGEST + 1), "1 .5", "' 5", "1'200,", "four",
    ],
)  # fmt: skip
def test_what_is_no_number_is_refused(typed: str) -> None:
    with pytest.raises(NumberRefused) as refused:
        read_number(typed)
    assert refused.value.code == NO_NUMBER


@given(AMOUNTS)
def test_every_writing_of_the_app_reads_back(amount: Decimal) -> None:
    for written in (f"{amount:,.2f}", f"{amount:.2f}", figures(amount), f"{int(amount):,}"):
        expected = int(amount) if "." not in written and amount != Decimal(written.replace(",", "")) else amount
        assert read_number(written) == expected, written


@given(st.integers(0, 10**9))
def test_a_count_of_the_app_reads_back_in_any_field_of_two_decimals_or_fewer(count: int) -> None:
    for decimals in (0, 1, 2):
        assert read_number(f"{count:,}", decimals=decimals) == count


@given(st.decimals(min_value=0, max_value=99_999, places=4))
def test_a_price_of_four_decimals_reads_back(price: Decimal) -> None:
    for written in (f"{price:.4f}", f"{price:,.4f}", plain_price(price)):
        assert read_number(written, decimals=4) == price


@given(st.sampled_from([(d.key, unit) for d in DIMENSIONS.values() for unit in d.shown_units]), st.floats(-5e4, 5e4))
def test_a_value_shown_in_its_unit_reads_back(kind: tuple[str, str], number: float) -> None:
    dimension, unit = kind
    shown = show(to_si(number, dimension, unit), dimension, unit)
    magnitude = parse(shown, dimension, unit)
    assert (
        number_text(from_si(magnitude, dimension, unit), unit) == number_text(number, unit)
        or abs(from_si(magnitude, dimension, unit) - number) <= 0.5000001 * 10 ** -_DECIMALS[unit]
    )


@given(st.integers(0, 10**9), st.integers(0, 99), st.sampled_from([(",", "."), (".", ","), (" ", ","), ("'", ".")]))
def test_each_plain_notation_is_what_decimal_makes_of_it(whole: int, rest: int, signs: tuple[str, str]) -> None:
    group, mark = signs
    typed = f"{whole:,}".replace(",", group) + f"{mark}{rest:02d}"
    assert read_number(typed) == Decimal(f"{whole}.{rest:02d}")


@given(st.text("0123456789.,' -+", max_size=12), st.integers(0, 4))
def test_a_number_is_never_guessed(typed: str, decimals: int) -> None:
    """Whatever is read has the figures that were typed, in their order."""
    try:
        number = read_number(typed, decimals=decimals)
    except NumberRefused:
        return
    figures_typed = "".join(sign for sign in typed if sign.isdigit()).lstrip("0")
    assert f"{number:f}".translate(str.maketrans("", "", ".-")).lstrip("0").rstrip("0") == figures_typed.rstrip("0")


@pytest.mark.parametrize(
    ("typed", "parts"),
    [("8,0 N·m", ("8,0", "N·m")), ("1 200,50 ml", ("1 200,50", "ml")), ("65°", ("65", "°")), ("ml", ("", "ml"))],
)
def test_a_value_parts_into_number_and_unit(typed: str, parts: tuple[str, str]) -> None:
    assert split_number(typed) == parts


def test_a_quantity_is_read_by_the_same_rule() -> None:
    assert parse("1,500 ml", "volume", "ml") == pytest.approx(1.5e-3)
    assert parse("1,440", "volume", "ml") == pytest.approx(1.44e-3)
    assert parse("1.125 in", "length", "mm") == pytest.approx(0.028575)
    assert parse("5,6 bar", "pressure", "psi") == pytest.approx(5.6e5)
    with pytest.raises(NumberUnclear, match=r"“1\.500” could be 1\.5 or 1500"):
        parse("1.500 ml", "volume", "ml")
    with pytest.raises(NumberUnclear, match=r"could be 1\.1250 or 1125"):
        parse("1,125", "length", "in")
    with pytest.raises(UnitError, match=r"^Enter a number, for example 15 ml\.$"):
        parse("1,44,0 ml", "volume", "ml")
