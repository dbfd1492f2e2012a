"""Filters that write SI values in the shop's units. They format and decide nothing."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django import template

from specs.models import Part
from specs.units import show
from workshop.staff.models import Shop
from workshop.web.chips import chip_of
from workshop.web.counts import counted
from workshop.web.day_words import day_written
from workshop.web.icons import ICONS
from workshop.web.languages import direction_written, language_written, page_words
from workshop.web.number_words import money_form, price_figures, shop_money, shop_price
from workshop.web.public_address import public_address_of

register = template.Library()


def _in_shop_units(magnitude_si: float | None, shop: Shop, dimension: str) -> str:
    return "" if magnitude_si is None else show(magnitude_si, dimension, shop.unit_for(dimension))


@register.filter
def day(value: dt.date | None, how: str) -> str:
    """A day or moment as Django's `date` writes it, with its year behind the month where it is not this one."""
    return day_written(value, how) if value else ""


@register.simple_tag
def page_language() -> str:
    """The code of the language a page is written in, for its `lang`."""
    return language_written()


@register.simple_tag
def page_direction() -> str:
    """The attribute `dir` of a page that is read from right to left; nothing of another."""
    return direction_written()


register.simple_tag(page_words)


@register.simple_tag
def icon(name: str) -> str:
    """A small drawing beside a word; see workshop.web.icons. An unknown name draws nothing."""
    return ICONS.get(name, "")


@register.simple_tag
def chip(state: str, label: str = "") -> str:
    """A state as a word and its drawing; see workshop.web.chips."""
    return chip_of(state, label or "")


@register.filter
def measure(part: Part, quantity: Decimal | None) -> str:
    """What a quantity of a part is counted in: “1 piece”, “2 pieces”, “5 ml”."""
    one = part.measure == Part.Measure.PIECE and quantity == 1
    return "piece" if one else str(part.get_measure_display())


@register.filter
def customers_reach(shop: Shop) -> bool:
    """Whether a link made for a customer would open; the demo's do on its own machine."""
    return bool(shop.is_demo or public_address_of(shop))


@register.filter
def pressure(magnitude_pa: float | None, shop: Shop) -> str:
    """Pascals in the shop's unit of pressure."""
    return _in_shop_units(magnitude_pa, shop, "pressure")


@register.filter
def distance(magnitude_m: float | None, shop: Shop) -> str:
    """Metres in the shop's unit of length. `length` is Django's own filter."""
    return _in_shop_units(magnitude_m, shop, "length")


@register.filter
def volume(magnitude_m3: float | None, shop: Shop) -> str:
    """Cubic metres in the shop's unit of volume."""
    return _in_shop_units(magnitude_m3, shop, "volume")


@register.filter
def torque(magnitude_nm: float | None, shop: Shop) -> str:
    """Newton metres in the shop's unit of torque."""
    return _in_shop_units(magnitude_nm, shop, "torque")


@register.filter
def mass(magnitude_kg: float | None, shop: Shop) -> str:
    """Kilograms in the shop's unit of mass."""
    return _in_shop_units(magnitude_kg, shop, "mass")


@register.filter
def price_each(price: Decimal | None, shop: Shop) -> str:
    """A price each with the shop's currency, with as many decimals as it has."""
    return shop_price(price, shop)


@register.filter(name="price_figures")
def figures_of_a_price(price: Decimal | None) -> str:
    """A price each in figures alone, where its currency stands elsewhere."""
    return "" if price is None else price_figures(price)


@register.filter
def money(amount: Decimal | None, shop: Shop) -> str:
    """An amount with the shop's currency."""
    return shop_money(amount, shop)


@register.simple_tag(takes_context=True, name="money_in")
def money_with_currency(context: template.Context, amount: Decimal | None, currency: str) -> str:
    """An amount in another currency than the shop's, such as a supplier's; the shop's where none is named."""
    return shop_money(amount, context["shop"], currency)


@register.simple_tag(takes_context=True)
def price_in(context: template.Context, price: Decimal | None, currency: str) -> str:
    """A price each in another currency than the shop's; the shop's where none is named."""
    return shop_price(price, context["shop"], currency)


@register.filter
def money_shape(shop: Shop) -> str:
    """How an amount is written, for scripts: “€¤” or “¤ EUR”, with the sign ¤ where its figures stand."""
    form = money_form(shop.currency, shop.country)
    return f"{form.before[0]}¤{form.behind[0]}"


@register.filter
def money_decimals(shop: Shop) -> int:
    """With how many decimals a script writes an amount in the shop's currency."""
    return money_form(shop.currency, shop.country).decimals


@register.filter(name="counted")
def counted_in_words(count: int, words: str) -> str:
    """How many of something: `rows|counted:"row,rows"`, `rows|counted:"row is,rows are"`."""
    one, _, many = words.partition(",")
    return counted(count, one, many)
