"""What the spring's readings say, with its curve, frozen for paper."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

from django.template.loader import render_to_string

from diagnosis.runs_state import RunState
from diagnosis.spring_answer import SpringAnswer
from specs.models import SpecValue
from specs.physics.air_spring import AirSpring
from workshop.plots.spring_curve import spring_curve
from workshop.tickets.models import Ticket
from workshop.work.spring import arrival_answer, spring_of


def spring_block(ticket: Ticket, states: Iterable[RunState], values: Mapping[str, SpecValue]) -> dict[str, Any] | None:
    """The answer in words, its numbers and its drawing; None where there is nothing to say."""
    unit, shop = ticket.unit, ticket.shop
    answer = arrival_answer(states, unit, shop, values=values)
    spring = spring_of(unit, values=values)
    if not isinstance(answer, SpringAnswer) or not isinstance(spring, AirSpring):
        return None
    curve = spring_curve(spring, answer, shop.unit_for)
    return {
        "headline": answer.headline,
        "sentences": list(answer.sentences),
        "numbers": [asdict(row) for row in answer.numbers],
        "assumed": list(answer.assumed),
        "for_customer": answer.for_customer,
        "is_stuck": answer.is_stuck,
        "drawing": _as_picture(render_to_string("plots/spring_curve.svg", {"curve": curve})) if curve else "",
        "drawing_in_words": curve.summary if curve else "",
    }


def _as_picture(svg: str) -> str:
    """An address that holds the drawing itself: as a picture it can have words in the PDF, as plain SVG it cannot."""
    return f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}"
