"""What was found beside the cause, with what answers it, and the box of a unit that must not be ridden; plain JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from diagnosis.layout_plans import CAUSE
from workshop.documents.search_block import cause_block
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


def found_by_the_way(findings: Sequence[Finding], shop: Shop) -> list[dict[str, Any]]:
    """What was found and is not the cause, each once, with what answers it."""
    return [_block(one, shop) | _standing(one) for one in findings if not _is_told_as_cause(one)]


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
