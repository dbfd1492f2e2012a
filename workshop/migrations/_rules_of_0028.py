"""What old rows become that break a rule which 0028 gives to the database."""

from collections.abc import Mapping
from typing import Any

from django.db.models import Q
from django.utils import timezone

from specs.migrations._mending import (
    Rule,
    below_zero,
    emptied,
    nearest,
    next_number,
    not_above_zero,
    outside,
    set_right,
)

OPEN = ("booked_in", "on_the_bench", "waiting", "ready")
SETTINGS = ("pressure_pa", "sag_m", "rest_travel_m")
UNDER_WAY = ("claimed", "handing_over")
MESSAGE_STATES = ("queued", *UNDER_WAY, "sent", "failed", "uncertain", "called_off")


def not_negative(*fields: str) -> Q:
    allowed = Q()
    for field in fields:
        allowed &= Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__gte": 0})
    return allowed


def booked_in(ticket: Any) -> Mapping[str, Any]:
    """A ticket in no known state is looked for again; beside an open one of its unit as 0021 says."""
    others = type(ticket).objects.using(ticket._state.db).filter(unit=ticket.unit_id, state__in=OPEN)
    doubled = timezone.now() if others.filter(doubled_at=None).exists() else None
    return {"state": "booked_in", "waiting_for": "", "doubled_at": ticket.doubled_at or doubled}


def kind_by_sign(movement: Any) -> Mapping[str, Any]:
    """No level changes by it: the quantity stays, and the kind becomes one that may go that way."""
    if movement.part_line_id is None:
        return {"kind": "counted"}
    return {"kind": "used" if movement.quantity < 0 else "returned"}


def within_reason(bench: Any) -> Mapping[str, Any]:
    return {
        "mechanics": min(bench.mechanics, 50),
        "usual_minutes": max(bench.usual_minutes, 1),
        "unknown_lead_days": min(bench.unknown_lead_days, 365),
    }


def wanted_emptied(bolt: Any) -> Mapping[str, Any]:
    return {
        **emptied("wanted_nm", where=not_above_zero)(bolt),
        **emptied("wanted_tolerance_nm", where=below_zero)(bolt),
    }


RULES = (
    Rule(
        "bench_reckons_within_reason",
        "workshop.BenchCapacity",
        outside(Q(mechanics__lte=50, usual_minutes__gte=1, unknown_lead_days__lte=365)),
        within_reason,
    ),
    Rule(
        "bolt_wanted_torque_above_zero",
        "workshop.BoltRecord",
        outside((Q(wanted_nm__isnull=True) | Q(wanted_nm__gt=0)) & not_negative("wanted_tolerance_nm")),
        wanted_emptied,
    ),
    Rule(
        "rider_mass_above_zero",
        "workshop.Customer",
        outside(Q(rider_mass_kg__isnull=True) | Q(rider_mass_kg__gt=0)),
        emptied("rider_mass_kg", where=not_above_zero),
    ),
    Rule(  # somebody withdrew it, so it opens nothing: from now on, as nobody knows since when
        "withdrawn_link_says_when",
        "workshop.CustomerLink",
        outside(Q(withdrawn_by__isnull=True) | Q(withdrawn_at__isnull=False)),
        lambda link: {"withdrawn_at": timezone.now()},
    ),
    Rule(
        "document_revision_from_one",
        "workshop.Document",
        outside(Q(revision__gte=1)),
        next_number("revision", "ticket_id", "kind"),
    ),
    Rule(
        "coming_up_within_a_year",
        "workshop.IntervalPolicy",
        outside(Q(coming_up_days__gte=1, coming_up_days__lte=365)),
        nearest("coming_up_days", 1, 365),
    ),
    Rule(
        "rate_of_labour_not_negative",
        "workshop.LabourLine",
        outside(not_negative("rate_hour")),
        nearest("rate_hour", 0),
    ),
    Rule(  # the owner is asked
        "message_state_is_known",
        "workshop.Message",
        outside(Q(state__in=MESSAGE_STATES)),
        lambda message: {"state": "uncertain"},
    ),
    Rule(
        "message_channel_is_known",
        "workshop.Message",
        outside(Q(channel__in=["email", "letter"])),
        lambda message: {"channel": "letter"},
    ),
    Rule(
        "order_line_cost_not_negative",
        "workshop.OrderLine",
        outside(not_negative("cost")),
        emptied("cost", where=below_zero),
    ),
    Rule(
        "part_line_price_not_negative",
        "workshop.PartLine",
        outside(not_negative("unit_price")),
        emptied("unit_price", where=below_zero),
    ),
    Rule(
        "part_line_status_is_known",
        "workshop.PartLine",
        outside(Q(status__in=["needed", "used", "dropped"])),
        lambda line: {"status": "needed"},
    ),
    Rule(
        "part_line_source_is_known",
        "workshop.PartLine",
        outside(Q(source__in=["kit", "finding", "by_hand"])),
        lambda line: {"source": "by_hand"},
    ),
    Rule(
        "photo_has_a_size",
        "workshop.Photo",
        outside(Q(width__gt=0, height__gt=0)),
        lambda photo: {"width": max(photo.width, 1), "height": max(photo.height, 1)},
    ),
    Rule(
        "price_change_not_negative",
        "workshop.PriceChange",
        outside(not_negative("old", "new")),
        emptied("old", "new", where=below_zero),
    ),
    Rule(  # nobody is proposed for erasure by a figure that nobody can mean
        "retention_from_one_to_thirty_years",
        "workshop.RetentionPolicy",
        outside(Q(years__isnull=True) | Q(years__gte=1, years__lte=30)),
        lambda policy: {"years": None},
    ),
    Rule(
        "settings_not_below_zero",
        "workshop.SettingsRecord",
        outside(not_negative(*SETTINGS)),
        emptied(*SETTINGS, where=below_zero),
    ),
    Rule(
        "labour_rate_not_negative",
        "workshop.Shop",
        outside(Q(labour_rate_hour__gte=0)),
        nearest("labour_rate_hour", 0),
    ),
    Rule(
        "only_a_move_to_waiting_says_what_for",
        "workshop.StateMove",
        outside(Q(waiting_for="") | Q(to_state="waiting")),
        lambda move: {"waiting_for": ""},
    ),
    Rule(
        "lead_days_within_a_year",
        "workshop.StockItem",
        outside(Q(lead_days__isnull=True) | Q(lead_days__lte=365)),
        lambda item: {"lead_days": None},
    ),
    Rule(
        "movement_goes_the_way_of_its_kind",
        "workshop.StockMovement",
        outside(
            Q(kind__in=["received", "returned"], quantity__gt=0)
            | Q(kind__in=["used", "written_off"], quantity__lt=0)
            | Q(kind="counted")
        ),
        kind_by_sign,
    ),
    Rule(
        "movement_of_a_ticket_is_used_or_returned",
        "workshop.StockMovement",
        outside(Q(part_line__isnull=True) | Q(kind__in=["used", "returned"])),
        kind_by_sign,
    ),
    Rule(
        "unit_travel_above_zero",
        "workshop.SuspensionUnit",
        outside(Q(travel_m__isnull=True) | Q(travel_m__gt=0)),
        emptied("travel_m", where=not_above_zero),
    ),
    Rule(
        "ticket_state_is_known",
        "workshop.Ticket",
        outside(Q(state__in=[*OPEN, "handed_back", "called_off"])),
        booked_in,
    ),
)


def mend(apps: Any, schema_editor: Any) -> None:
    set_right(apps, schema_editor, RULES)
