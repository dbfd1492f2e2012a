"""Money as the shop's country writes it, and quantities, held against Babel and plain decimals."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from babel import Locale
from babel.numbers import format_currency, list_currencies
from fontTools.ttLib import TTFont
from hypothesis import example, given
from hypothesis import strategies as st

from specs.numbers import read_number
from workshop.promise.closed import countries
from workshop.staff.models import Shop
from workshop.web.number_words import (
    figures,
    money_figures,
    money_form,
    money_words,
    plain_money,
    price_words,
    shop_money,
    shop_price,
)

ROOT = Path(__file__).parents[3]
NBSP = "\u00a0"
CENTS = st.decimals(Decimal("-9999999.99"), Decimal("9999999.99"), places=2)
# English of these countries has a point before decimals and a comma between thousands, as the app does.
AS_THE_APP = ("AU", "CA", "GB", "IE", "NZ", "SG", "US")


@given(CENTS, st.sampled_from(["EUR", "GBP", "USD", "AUD", "CAD"]), st.sampled_from(AS_THE_APP))
@example(Decimal("-0.00"), "EUR", "GB")
@example(Decimal("0.00"), "USD", "US")
def test_money_is_written_as_babel_has_it(amount: Decimal, currency: str, country: str) -> None:
    expected = format_currency(amount + 0, currency, locale=f"en_{country}")
    assert money_words(amount, currency, country).replace(NBSP, "") == expected  # CLDR's blank behind letters


@given(CENTS, st.sampled_from(["EUR", "SEK", "CHF"]))
def test_without_a_country_its_letters_stand_behind_it(amount: Decimal, currency: str) -> None:
    assert money_words(amount, currency) == format_currency(amount + 0, currency, "#,##0.00 ¤¤", locale="en")


@given(st.integers(-9_999_999, 9_999_999), st.sampled_from(["JPY", "KRW", "ISK"]))
def test_a_currency_without_cents_has_none(amount: int, currency: str) -> None:
    assert money_words(Decimal(amount), currency) == f"{amount:,} {currency}"
    assert money_words(Decimal(amount) + Decimal("0.25"), currency) == f"{amount + 0.25:,.2f} {currency}"


@pytest.mark.parametrize(
    ("currency", "country", "written", "below_zero"),
    [
        ("EUR", "DE", f"1,440.50{NBSP}€", f"-1,440.50{NBSP}€"),
        ("EUR", "IE", "€1,440.50", "-€1,440.50"),
        ("GBP", "GB", "£1,440.50", "-£1,440.50"),
        ("USD", "US", "$1,440.50", "-$1,440.50"),
        ("USD", "CA", "US$1,440.50", "-US$1,440.50"),
        ("CAD", "CA", "$1,440.50", "-$1,440.50"),
        ("CHF", "CH", f"CHF{NBSP}1,440.50", "CHF-1,440.50"),
        ("SEK", "SE", f"1,440.50{NBSP}kr", f"-1,440.50{NBSP}kr"),
        ("CHF", "GB", f"CHF{NBSP}1,440.50", f"-CHF{NBSP}1,440.50"),
        ("INR", "IN", f"INR{NBSP}1,440.50", f"-INR{NBSP}1,440.50"),
        ("EUR", "", "1,440.50 EUR", "-1,440.50 EUR"),
        ("MXN", "MX", "$1,440.50", "-$1,440.50"),
        ("MXN", "US", "MX$1,440.50", "-MX$1,440.50"),
    ],
)
def test_its_sign_stands_where_the_country_has_it(currency: str, country: str, written: str, below_zero: str) -> None:
    shop = Shop(currency=currency, country=country)
    assert shop_money(Decimal("1440.5"), shop) == written
    assert shop_money(Decimal("-1440.5"), shop) == below_zero


def test_another_currency_than_the_shops() -> None:
    shop = Shop(currency="GBP", country="GB")
    assert shop_money(Decimal(12), shop, "EUR") == "€12.00"
    assert shop_price(Decimal("0.0149"), shop, "EUR") == "€0.0149"
    assert shop_price(Decimal("0.0149"), shop) == "£0.0149"
    assert (shop_money(None, shop), shop_price(None, shop)) == ("", "")


@pytest.mark.parametrize("amount", ["-0.00", "-0", "0.00", "-0.001", "-0.004"])
def test_nothing_has_no_sign(amount: str) -> None:
    nothing = Decimal(amount)
    assert money_words(nothing, "EUR", "GB") == "€0.00"
    assert money_words(nothing, "EUR") == "0.00 EUR"
    assert (money_figures(nothing), plain_money(nothing), figures(nothing)) == ("0.00", "0.00", "0")


@given(st.decimals(Decimal("-99999.9999"), Decimal("99999.9999"), places=4))
def test_a_price_hides_nothing(price: Decimal) -> None:
    letters = price_words(price, "EUR").removesuffix(" EUR")
    assert Decimal(letters.replace(",", "")) == price
    assert len(letters.partition(".")[2]) >= 2


@given(CENTS)
def test_figures_are_the_number_to_two_places_and_read_back(quantity: Decimal) -> None:
    assert Decimal(figures(quantity)) == quantity
    assert read_number(money_figures(abs(quantity))) == abs(quantity)
    assert not figures(quantity).endswith(("0", ".")) or "." not in figures(quantity)


def test_every_currency_in_every_country_can_be_written_and_printed() -> None:
    font = TTFont(ROOT / "static/fonts/atkinson-hyperlegible-next-400.woff2")
    drawn = {chr(code) for code in font.getBestCmap()}
    for country in ["", *(code for code, _ in countries())]:
        for currency in ("EUR", "GBP", "USD", "JPY", "CHF", "PLN", "INR", "XXX", *sorted(list_currencies("DE"))[:3]):
            form = money_form(currency, country)
            signs = "".join((*form.before, *form.behind))
            assert any(letter.isalpha() or letter in "$€£¥" for letter in signs), (currency, country)
            assert set(signs) <= drawn, (currency, country, signs)


def test_every_country_of_the_lists_has_an_english() -> None:
    world = Locale("en", "001").currency_formats["standard"]
    assert money_form("EUR", "QQ").before[0] == world.prefix[0].replace("¤", "€")


def test_how_a_currency_is_written_is_worked_out_once() -> None:
    before = money_form.cache_info()
    for cents in range(50):
        money_words(Decimal(cents) / 100, "NOK", "NO")
    after = money_form.cache_info()
    assert after.hits - before.hits >= 49
    assert after.misses - before.misses <= 1
