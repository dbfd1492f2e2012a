"""Quantities and money as people write them. Filters, papers, messages and the logbook all ask here.

Numbers have a point before decimals and a comma between thousands, as `specs/numbers.py` reads them back. Money has
the decimals of its currency and its sign where English puts it in the shop's country, both from Unicode CLDR, through
Babel. A shop that does not say where it is has the three letters of the currency behind the amount.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from babel import Locale, UnknownLocaleError
from babel.numbers import get_currency_precision, get_currency_symbol

if TYPE_CHECKING:
    from workshop.staff.models import Shop

# Signs that every font of screens and papers has; of other currencies the three letters are written.
_SIGNS_AT_HAND = frozenset("€£¥")
_NBSP = "\u00a0"


@dataclass(frozen=True)
class MoneyForm:
    """What stands before and behind an amount, above zero and below, and with how many decimals it is written."""

    before: tuple[str, str]
    behind: tuple[str, str]
    decimals: int


@lru_cache(maxsize=1024)
def money_form(currency: str, country: str = "") -> MoneyForm:
    """How a currency (ISO 4217) is written in a country (ISO 3166-1, two letters); worked out once for each pair."""
    decimals = get_currency_precision(currency)
    if not country:
        return MoneyForm(("", "-"), (f" {currency}", f" {currency}"), decimals)
    locale = _english_of(country)
    sign = get_currency_symbol(currency, locale=locale)
    bare = sign.removeprefix(country)
    if bare and not bare[0].isalnum():  # who lives there needs no “JP” before the ¥
        sign = bare
    if not all(letter.isascii() or letter in _SIGNS_AT_HAND for letter in sign):
        sign = currency
    pattern = locale.currency_formats["standard"]
    return MoneyForm(
        (_before(pattern.prefix[0], sign), _before(pattern.prefix[1], sign)),
        (pattern.suffix[0].replace("¤", sign), pattern.suffix[1].replace("¤", sign)),
        decimals,
    )


def _english_of(country: str) -> Locale:
    """English as it is written in a country; that of the world where CLDR has none for it."""
    try:
        return Locale.parse(f"en_{country}")
    except (UnknownLocaleError, ValueError):
        return Locale("en", "001")


def _before(pattern: str, sign: str) -> str:
    """What stands before the figures; letters are kept apart from them, as CLDR's spacing of currencies has it."""
    written = pattern.replace("¤", sign)
    return f"{written}{_NBSP}" if written[-1:].isalpha() else written


def figures(quantity: Decimal, *, group: str = "") -> str:
    """Without trailing noughts: 2, 2.5, 25; thousands apart by `group`."""
    return f"{quantity.quantize(Decimal('0.01')).normalize():z{group}f}"


def money_figures(amount: Decimal | float) -> str:
    """An amount to the cent: 1,440.00."""
    return f"{amount:z,.2f}"


def money_words(amount: Decimal | None, currency: str, country: str = "") -> str:
    """An amount in a currency, as it is written in a country: €1,440.00, ¥1,440; "" where it is not known.

    Cents of a currency that has none are shown all the same: nothing of a sum is hidden.
    """
    if amount is None:
        return ""
    form = money_form(currency, country)
    return _with_currency(amount, f"{abs(amount):,.{_decimals(amount, form)}f}", form)


def shop_money(amount: Decimal | None, shop: Shop, currency: str = "") -> str:
    """An amount in the shop's currency, or another, as the shop's country writes it; "" where it is not known."""
    return money_words(amount, currency or shop.currency, shop.country)


def plain_money(amount: Decimal) -> str:
    """An amount to the cent without commas, as the logbook keeps it."""
    return f"{amount:z.2f}"


def price_figures(price: Decimal) -> str:
    """A price each: two decimals, and more only where it has more: 11.50, 0.0149, 1,440.00."""
    return _price(price, ",")


def price_words(price: Decimal | None, currency: str, country: str = "") -> str:
    """A price each with its currency, as it is written in a country; "" where it is not known."""
    if price is None:
        return ""
    if price != price.quantize(_CENT):
        return _with_currency(price, _price(abs(price), ","), money_form(currency, country))
    return money_words(price, currency, country)


def shop_price(price: Decimal | None, shop: Shop, currency: str = "") -> str:
    """A price each in the shop's currency, or another, as the shop's country writes it; "" where it is not known."""
    return price_words(price, currency or shop.currency, shop.country)


def price_in_words(price: Decimal | None) -> str:
    """A price each as a sentence has it: figures, “free” for 0, “no price” where none was set."""
    return "no price" if price is None else "free" if price == 0 else price_figures(price)


def plain_price(price: Decimal | None) -> str:
    """The same for a field or a file, without commas; "" where it is not known."""
    return "" if price is None else _price(price, "")


_CENT = Decimal("0.01")


def _price(price: Decimal, group: str) -> str:
    cents = price.quantize(_CENT)
    return f"{cents if cents == price else price.normalize():z{group}f}"


def _decimals(amount: Decimal, form: MoneyForm) -> int:
    return form.decimals if form.decimals >= 2 or amount == amount.to_integral_value() else 2


def _with_currency(amount: Decimal, written: str, form: MoneyForm) -> str:
    below_zero = amount < 0 and bool(written.strip("0.,"))
    return f"{form.before[below_zero]}{written}{form.behind[below_zero]}"
