"""Quantities and money as people write them. Filters, papers, messages and the logbook all ask here."""

from __future__ import annotations

from decimal import Decimal


def figures(quantity: Decimal, *, group: str = "") -> str:
    """Without trailing noughts: 2, 2.5, 25; thousands apart by `group`."""
    return f"{quantity.quantize(Decimal('0.01')).normalize():{group}f}"


def money_figures(amount: Decimal | float) -> str:
    """An amount to the cent: 1,440.00."""
    return f"{amount:,.2f}"


def money_words(amount: Decimal | None, currency: str) -> str:
    """An amount to the cent with its currency: 1,440.00 EUR; "" where it is not known."""
    return "" if amount is None else f"{money_figures(amount)} {currency}"


def plain_money(amount: Decimal) -> str:
    """An amount to the cent without commas, as the logbook keeps it."""
    return f"{amount:.2f}"


def price_figures(price: Decimal) -> str:
    """A price each: two decimals, and more only where it has more: 11.50, 0.0149, 1,440.00."""
    return _price(price, ",")


def price_words(price: Decimal | None, currency: str) -> str:
    """A price each with its currency; "" where it is not known."""
    return "" if price is None else f"{price_figures(price)} {currency}"


def price_in_words(price: Decimal | None) -> str:
    """A price each as a sentence has it: figures, “free” for 0, “no price” where none was set."""
    return "no price" if price is None else "free" if price == 0 else price_figures(price)


def plain_price(price: Decimal | None) -> str:
    """The same for a field or a file, without commas; "" where it is not known."""
    return "" if price is None else _price(price, "")


def _price(price: Decimal, group: str) -> str:
    cents = price.quantize(Decimal("0.01"))
    return f"{cents if cents == price else price.normalize():{group}f}"
