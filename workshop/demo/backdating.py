"""Moving a demo ticket into the past. Only the demo does this: a real ticket's times are never edited."""

from __future__ import annotations

import datetime as dt

from django.db.models import F

from diagnosis.models import Reading, Run, Tick
from workshop.charges.models import FinalCharges, LabourLine
from workshop.tickets.models import (
    ConditionNote,
    FindingAnswer,
    PartLine,
    SettingsRecord,
    StateMove,
    Ticket,
    TicketEvent,
)
from workshop.torque.models import BoltRecord


def shift_into_past(ticket: Ticket, *, days: int, spread_over_days: int) -> None:
    """Let a ticket made just now have been booked `days` ago and have taken `spread_over_days` until now."""
    back = dt.timedelta(days=days)
    Ticket.objects.filter(pk=ticket.pk).update(
        booked_at=F("booked_at") - back,
        state_since=F("state_since") - back + dt.timedelta(days=spread_over_days),
        promised_on=ticket.promised_on - back,
    )
    _spread(list(StateMove.objects.filter(ticket=ticket)), "at", back, spread_over_days)
    _spread(list(TicketEvent.objects.filter(ticket=ticket).order_by("pk")), "at", back, spread_over_days)
    ConditionNote.objects.filter(ticket=ticket).update(at=F("at") - back)
    PartLine.objects.filter(ticket=ticket).update(at=F("at") - back)
    FindingAnswer.objects.filter(ticket=ticket).update(at=F("at") - back)
    BoltRecord.objects.filter(ticket=ticket).update(at=F("at") - back)
    LabourLine.objects.filter(ticket=ticket).update(at=F("at") - back)
    late = back - dt.timedelta(days=spread_over_days)
    FinalCharges.objects.filter(ticket=ticket).update(at=F("at") - late)
    for record in SettingsRecord.objects.filter(ticket=ticket):
        record.at -= back if record.moment == SettingsRecord.Moment.ARRIVAL else late
        record.save(update_fields=["at"])
    runs = Run.objects.filter(pk__in=ticket.ticket_runs.values("run"))
    middle = back - dt.timedelta(days=spread_over_days / 2)
    runs.update(started_at=F("started_at") - middle)
    Tick.objects.filter(run__in=runs).update(ticked_at=F("ticked_at") - middle, received_at=F("received_at") - middle)
    Reading.objects.filter(run__in=runs).update(read_at=F("read_at") - middle)


def _spread(rows: list[StateMove] | list[TicketEvent], field: str, back: dt.timedelta, days: int) -> None:
    """The first row at booking, the last when the ticket came to its present state, the rest between."""
    last = max(len(rows) - 1, 1)
    for number, row in enumerate(rows):
        moved = getattr(row, field) - back + dt.timedelta(days=days * number / last)
        type(row)._default_manager.filter(pk=row.pk).update(**{field: moved})
