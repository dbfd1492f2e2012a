"""Whoever enters what the database would refuse is told so in words, beside the field."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from specs.entering import ValueSource, enter_value
from specs.parts_editing import PartData, save_part
from tests import factories as make
from workshop.customers.adding import add_customer
from workshop.models import PartLine
from workshop.office.forms import ShopForm
from workshop.privacy.erasing import edit_retention
from workshop.promise.capacity import set_capacity
from workshop.reminders.editing import edit_figures
from workshop.stock.keeping import keep_part
from workshop.suspension.adding import add_unit
from workshop.tickets.settings_record import Settings, record_settings
from workshop.work.part_lines import check_line

pytestmark = pytest.mark.django_db


@dataclass(frozen=True)
class Entered:
    """A write with a value that the rule refuses, and the field that it is of."""

    rule: str
    field: str
    write: Callable[[], object]


def _customer() -> object:
    return add_customer(shop=make.ShopFactory(), name="Mara Quill", phone="0555 1", by=None, rider_mass_kg=-80.0)


def _unit(travel_m: float) -> Callable[[], object]:
    return lambda: add_unit(customer=make.CustomerFactory(), described_as="A fork", travel_m=travel_m)


def _settings(**values: Any) -> Callable[[], object]:
    def write() -> object:
        return record_settings(ticket=make.TicketFactory(), moment="arrival", settings=Settings(**values), by=None)

    return write


def _settings_corrected() -> object:
    record = make.SettingsRecordFactory(moment="arrival", pressure_pa=500_000.0)
    return record_settings(
        ticket=record.ticket, moment="arrival", settings=Settings(pressure_pa=-1.0), by=None,
        seen_version=record.version,
    )  # fmt: skip


def _part(**sizes: Any) -> Callable[[], object]:
    return lambda: save_part(part=None, data=PartData(number="R-1", description="Ring", **sizes))


def _tolerance() -> object:
    return enter_value(
        model=make.SuspensionModelFactory(), quantity="axle_torque", typed="12", unit="N·m", tolerance="-1",
        source=ValueSource("Handbook"), entered_by=make.UserFactory(),
    )  # fmt: skip


def _line() -> object:
    line = PartLine(ticket=make.TicketFactory(), words="A bolt", quantity=Decimal(1), unit_price=Decimal(-1))
    line.at = line.ticket.booked_at
    check_line(line)
    return line


def _capacity(**changed: int) -> Callable[[], object]:
    figures: dict[str, Any] = {"mechanics": 1, "usual_minutes": 90, "unknown_lead_days": 7, **changed}
    return lambda: set_capacity(
        shop=make.ShopFactory(), seen_version=0, hours_a_day=Decimal(6), closed_weekdays=[], **figures
    )


def _figures(days: int) -> Callable[[], object]:
    return lambda: edit_figures(
        shop=make.ShopFactory(), seen_version=0, wet_factor=0.75, dusty_factor=0.75, said_hours_spread=0.3,
        coming_up_days=days,
    )  # fmt: skip


def _retention(years: int) -> Callable[[], object]:
    return lambda: edit_retention(shop=make.ShopFactory(), seen_version=0, years=years)


def _kept() -> object:
    return keep_part(shop=make.ShopFactory(), part=make.PartFactory(), price=Decimal(1), lead_days=366)


def _rate() -> object:
    shop = make.ShopFactory()
    form = ShopForm(instance=shop)
    sent = {name: form.initial.get(name) or "" for name in form.fields} | {"labour_rate_hour": "-5"}
    errors = ShopForm(sent, instance=shop).errors
    raise ValidationError({"labour_rate_hour": [str(error) for error in errors["labour_rate_hour"]]})


ENTERED = (
    Entered("rider_mass_above_zero", "rider_mass_kg", _customer),
    Entered("unit_travel_above_zero", "travel_m", _unit(0.0)),
    Entered("unit_travel_above_zero", "travel_m", _unit(-0.17)),
    Entered("settings_not_below_zero", "pressure_pa", _settings(pressure_pa=-1.0)),
    Entered("settings_not_below_zero", "sag_m", _settings(sag_m=-0.01)),
    Entered("settings_not_below_zero", "rest_travel_m", _settings(rest_travel_m=-0.01)),
    Entered("settings_not_below_zero", "pressure_pa", _settings_corrected),
    Entered("part_measures_above_zero", "inside_mm", _part(inside_mm=-9.0, section_mm=2.0)),
    Entered("part_measures_above_zero", "section_mm", _part(inside_mm=9.0, section_mm=0.0)),
    Entered("part_measures_above_zero", "stanchion_mm", _part(stanchion_mm=-35.0)),
    Entered("spec_value_tolerance_not_negative", "tolerance", _tolerance),
    Entered("part_line_price_not_negative", "unit_price", _line),
    Entered("bench_reckons_within_reason", "mechanics", _capacity(mechanics=51)),
    Entered("bench_reckons_within_reason", "usual_minutes", _capacity(usual_minutes=0)),
    Entered("bench_reckons_within_reason", "unknown_lead_days", _capacity(unknown_lead_days=366)),
    Entered("coming_up_within_a_year", "coming_up_days", _figures(0)),
    Entered("coming_up_within_a_year", "coming_up_days", _figures(366)),
    Entered("retention_from_one_to_thirty_years", "years", _retention(0)),
    Entered("retention_from_one_to_thirty_years", "years", _retention(31)),
    Entered("lead_days_within_a_year", "lead_days", _kept),
    Entered("labour_rate_not_negative", "labour_rate_hour", _rate),
)


@pytest.mark.parametrize("entered", ENTERED, ids=lambda entered: f"{entered.rule}-{entered.field}")
def test_it_is_said_beside_the_field(entered: Entered) -> None:
    with pytest.raises(ValidationError) as refused:
        entered.write()
    words = " ".join(refused.value.message_dict[entered.field])
    assert words
    assert entered.rule not in words  # "Constraint … is violated" is nobody's language
