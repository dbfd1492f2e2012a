"""What the fragment of a ticket's critical bolts shows; a step of the bench includes it with this context."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from diagnosis.models import Run, Step
from workshop.staff.models import User
from workshop.staff.roles import Right
from workshop.stores.torque_forms import BoltForm
from workshop.tickets.models import Ticket
from workshop.torque.bolts import BoltState, bolts_of
from workshop.torque.tools import tools_of


@dataclass(frozen=True)
class BoltShown:
    """A bolt with its form, and whether the person looking may countersign it."""

    state: BoltState
    form: BoltForm
    may_countersign: bool
    refused: str = ""


def bolts_context(
    ticket: Ticket,
    user: User,
    *,
    run: Run | None = None,
    step: Step | None = None,
    refused_form: tuple[str, BoltForm] | None = None,
    refused_countersign: tuple[str, str] | None = None,
) -> dict[str, Any]:
    """Context for `bench/_bolts.html`: all critical bolts of the ticket, or with `step` those that it tightens.

    Args:
        refused_form: a bolt and the form that was sent for it, to show what was wrong with nothing typed lost.
        refused_countersign: a bolt and why it could not be countersigned.
    """
    tools = list(tools_of(ticket.shop))
    only: Sequence[str] | None = None if step is None else list(step.bolts)
    shown = []
    for state in bolts_of(ticket, only=only):
        is_refused = refused_form is not None and refused_form[0] == state.bolt
        shown.append(
            BoltShown(
                state=state,
                form=refused_form[1] if refused_form and is_refused else BoltForm(ticket.shop, state.bolt, tools),
                may_countersign=_may_record(user) and state.can_be_countersigned_by(user),
                refused=refused_countersign[1] if refused_countersign and refused_countersign[0] == state.bolt else "",
            )
        )
    return {
        "ticket": ticket,
        "bolts": shown,
        "bolts_run": run,
        "bolts_step": step,
        "may_record_bolts": _may_record(user) and ticket.is_open,
        "new_id": uuid.uuid4(),
    }


def _may_record(user: User) -> bool:
    return user.may(Right.WORK_AT_BENCH)
