"""What was found beside the cause, with what answers it, and the box of a unit that must not be ridden; plain JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.translation import gettext

from diagnosis.layout_plans import CAUSE
from workshop.documents.run_block import readings_read, was_read
from workshop.documents.said_once import endings_once
from workshop.documents.search_block import Told, cause_block
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.work.findings import Finding
from workshop.work.unsafe import Unsafe


def unsafe_block(unsafe: Unsafe, ticket: Ticket) -> dict[str, Any]:
    """What must not be ridden, and whether it left like that; no words where it is safe."""
    return {
        "words": list(unsafe.words),
        "signed_by": unsafe.signed_by,
        "is_gone": ticket.state == Ticket.State.HANDED_BACK,
    }


def found_by_the_way(findings: Sequence[Finding], shop: Shop, since: Told | None = None) -> list[dict[str, Any]]:
    """What was found and is not the cause, each once, with what answers it; `since` as `told_since` gives it."""
    told = since or {}
    return [
        _block(one, shop) | _standing(one) | dict(told.get(one.found.told_by, {}) if one.found else {})
        for one in findings
        if not _is_told_as_cause(one)
    ]


def done_since(findings: Sequence[Finding], shop: Shop) -> Told:
    """For a report: of each finding that is answered, what was done since, in place of what it would take.

    `then` has the sentences of the steps that put it right and the parts that were fitted, `then_read` what was read
    there; an answer that is no work (the customer's no) stays in its words.
    """
    return {one.found.told_by: _since(one, shop) for one in findings if one.found is not None and not one.is_open}


def _since(finding: Finding, shop: Shop) -> Mapping[str, Any]:
    done = [state for state in finding.done if state.step.for_customer and was_read(state)]
    then = endings_once([state.step.for_customer for state in done])
    if finding.fitted:
        then.append(gettext("Fitted: %(parts)s.") % {"parts": "; ".join(finding.fitted)})
    return {
        "cure": "",
        "then": " ".join(then),
        "then_read": [row for state in done for row in readings_read(state, shop)],
        "answered": [] if then and finding.said is None else list(finding.answered),
    }


def finding_rows(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """Every finding in a row of the work order: what, how bad, and what answers it."""
    return [{"title": one.title, "seen": one.seen, "kind": one.kind_words} | _standing(one) for one in findings]


def _is_told_as_cause(finding: Finding) -> bool:
    """Whether the block of its complaint tells of it already."""
    found = finding.found
    return found is not None and (finding.kind == CAUSE or found.cause is not None)


def _block(finding: Finding, shop: Shop) -> dict[str, Any]:
    if finding.found is not None:
        return cause_block(finding.found, shop)
    plain = dict.fromkeys(("text", "how", "cure", "note"), "")
    return {"title": finding.title, "seen": finding.seen, "read": [], **plain}


def _standing(finding: Finding) -> dict[str, Any]:
    return {"answered": list(finding.answered), "is_danger": finding.is_danger, "is_unsafe": finding.is_unsafe}
