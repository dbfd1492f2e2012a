"""What the spring's readings say, with its curve, frozen for paper."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.template.loader import render_to_string

from diagnosis.runs_state import RunState
from specs.models import SpecValue
from workshop.documents.pictures import as_picture
from workshop.plots.spring_curve import spring_curve
from workshop.tickets.models import Ticket
from workshop.work.spring import SpringStory, spring_story


def spring_block(ticket: Ticket, states: Iterable[RunState], values: Mapping[str, SpecValue]) -> dict[str, Any] | None:
    """The answer as it came in, in words, with its numbers and its drawing; None where there is nothing to say.

    `now` is what the newest depth says since, in a line, `left` what was wrong and what is left, and `proved` what the
    customer is told once the proof says that it is healthy. `is_brief` says that its words fit beside the drawing:
    nothing is stuck, and nothing was read since.
    """
    unit, shop = ticket.unit, ticket.shop
    story = spring_story(states, unit, shop, values=values, on_a_bike=ticket.bike_id is not None)
    if not isinstance(story, SpringStory):
        return None
    answer = story.arrival
    curve = spring_curve(answer.spring, answer, shop.unit_for) if answer.spring is not None else None
    newer = story.now if story.now is not answer else None
    return {
        "headline": answer.headline,
        "sentences": list(answer.sentences),
        "assumed": list(answer.assumed),
        "for_customer": answer.for_customer,
        "is_stuck": answer.is_stuck,
        "is_brief": not answer.is_stuck and newer is None and not story.waits and not story.since,
        "now": newer.headline if newer is not None else story.waits,
        "now_sentences": list(newer.sentences) if newer is not None else [],
        "left": [*story.since, *([story.depths] if story.depths else [])],
        "proved": newer.for_customer if newer is not None and story.is_proved else "",
        "drawing": as_picture(render_to_string("plots/spring_curve.svg", {"curve": curve})) if curve else "",
        "drawing_in_words": curve.summary if curve else "",
    }
