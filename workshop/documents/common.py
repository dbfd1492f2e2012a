"""Pieces that more than one document prints, as plain JSON that can be frozen."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext, gettext_noop

from specs.facts import AS_USUAL, FACTS, facts_of_kind
from specs.quantities import QUANTITIES
from specs.units import show
from workshop.customers.models import Customer
from workshop.staff.countries import tax_number_name
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.models import SettingsRecord, Ticket
from workshop.tickets.settings_record import Settings, settings_of
from workshop.till.receipt_settings import receipt_settings_of


def date_text(day: date) -> str:
    """A day as people say it, with its weekday: “Thu 3 Dec 2026”."""
    return str(date_format(day, "D j M Y"))


def shop_block(shop: Shop) -> dict[str, Any]:
    """Name and address for the head of a page."""
    return {
        "name": shop.name,
        "address": shop.address,
        "phone": shop.phone,
        "email": shop.email,
        "is_demo": shop.is_demo,
        "currency": shop.currency,
    }


def logo_of_shop(shop: Shop) -> str:
    """The logo for the head of what a customer gets, as an address that holds it; empty where the shop has none."""
    return receipt_settings_of(shop).logo


def numbers_block(shop: Shop) -> dict[str, str]:
    """The numbers under which the shop is taxed and registered, for what a customer agrees to pay on."""
    said = receipt_settings_of(shop)
    return {
        "tax_number": said.tax_number,
        "tax_number_name": tax_number_name(shop.country),
        "registration_number": said.registration_number,
    }


def contact_block(customer: Customer) -> dict[str, Any]:
    """Of a customer with a contact person: whom to ask for, and how they are reached besides by the first phone."""
    if not customer.contact_person:
        return {"contact_person": "", "reach": []}
    best = customer.preferred_contact
    reach = [*customer.other_phones.splitlines(), *([customer.email] if best == Customer.Contact.EMAIL else [])]
    if best != Customer.Contact.PHONE:
        reach.append(gettext("best by %(way)s") % {"way": customer.get_preferred_contact_display().lower()})
    return {"contact_person": customer.contact_person, "reach": [line for line in reach if line]}


def unit_block(unit: SuspensionUnit, shop: Shop) -> dict[str, Any]:
    """What the unit is, and the facts that decide how it comes apart: one that nobody knows as a blank. Of what makes
    a unit one of a kind of its own only what is known to be so: its steps ask for the rest.
    """
    facts = unit.facts()
    rows = [
        {"label": "Serial number", "value": unit.serial},
        {
            "label": "Travel",
            "value": "" if unit.travel_m is None else show(unit.travel_m, "length", shop.unit_for("length")),
        },
    ]
    for key in [*facts_of_kind(unit.kind), "gas_charge"]:
        fact, value = FACTS[key], facts.get(key)
        if key != "kind" and (key not in AS_USUAL or value not in (None, AS_USUAL[key])):
            rows.append({"label": fact.label, "value": "" if value is None else fact.values[value]})
    return {"title": unit.title, "kind": unit.get_kind_display(), "facts": rows}


_SETTINGS: tuple[tuple[str, str, str], ...] = (
    ("pressure_pa", gettext_noop("Air pressure"), "pressure"),
    ("sag_m", gettext_noop("Sag"), "length"),
    ("rest_travel_m", gettext_noop("Rest depth"), "length"),
    ("rebound_clicks", gettext_noop("Rebound, clicks from closed"), ""),
    ("compression_clicks", gettext_noop("Compression, clicks from closed"), ""),
    ("high_compression_clicks", gettext_noop("High-speed compression, clicks from closed"), ""),
    ("spacers", gettext_noop("Volume spacers"), ""),
    ("remarks", gettext_noop("Remarks"), "text"),
)


def settings_rows(ticket: Ticket, shop: Shop, leaving: Settings) -> list[dict[str, str]]:
    """Each setting as it arrived and as it leaves; what was not read is empty."""
    records = {record.moment: record for record in ticket.settings_records.all()}
    arrival = settings_of(records.get(SettingsRecord.Moment.ARRIVAL))
    return [
        {
            "label": gettext(label),
            "arrival": _setting(arrival, name, kind, shop),
            "hand_back": _setting(leaving, name, kind, shop),
        }
        for name, label, kind in _SETTINGS
    ]


def _setting(settings: Settings, name: str, dimension: str, shop: Shop) -> str:
    value = getattr(settings, name)
    if value is None:
        return ""
    if dimension in ("", "text"):
        return str(value)
    return show(value, dimension, shop.unit_for(dimension))


_KINDS = (gettext_noop("fork"), gettext_noop("rear shock"))  # the words of specs.facts, which knows no translation


def unit_kind_words(unit: SuspensionUnit) -> str:
    """“fork” or “rear shock”, in the language of the paper."""
    return gettext(unit.get_kind_display())


PRINTED_GROUPS = ("air", "oil", "torque", "setup", "sizes")


def printed_quantities() -> list[str]:
    """The quantities a mechanic works by; geometry is for the arithmetic, intervals for the report."""
    return [key for key, quantity in QUANTITIES.items() if quantity.group in PRINTED_GROUPS]
