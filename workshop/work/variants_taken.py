"""The customer's answer to an estimate, and what it puts onto the ticket: the way that they take, and no other."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.charges.agreeing import record_answer
from workshop.charges.labour import drop_labour, keep_labour
from workshop.charges.models import Agreement
from workshop.charges.variant_models import Variant, VariantLine
from workshop.charges.variants import labour_of, part_line_of
from workshop.issued.models import Document
from workshop.staff.models import User
from workshop.tickets.models import PartLine, Ticket
from workshop.work.adding_parts import add_priced
from workshop.work.part_lines import drop_part_line


@transaction.atomic
def answer_estimate(*, document: Document, agreed: bool, variant: str = "", by: User | None, **said: Any) -> Agreement:
    """Write down the answer as `record_answer` does, and take the way with it. The same answer again changes nothing.

    Args:
        variant: the key of the way that the customer takes, as the estimate has it; "" where it offers none.

    Raises:
        ValidationError: a yes without saying to which way, a way that is not offered any more, or what was taken
            before is used already; and what `record_answer` raises.
    """
    answer = record_answer(document=document, agreed=agreed, variant=variant, by=by, **said)
    offers = {one["key"]: one["offers"] for one in document.data.get("variants") or []}
    if offers:
        ticket = Ticket.objects.select_related("shop").get(pk=document.ticket_id)
        taken = ticket.variants.filter(taken=True).first()
        wanted = variant if agreed else ""
        if taken is not None and str(taken.pk) != wanted and str(taken.pk) in offers:
            _give_up(taken, by)
            taken = None
        if wanted and taken is None:
            _take(ticket, wanted, offers[wanted], by)
    return answer


def _take(ticket: Ticket, key: str, lines: Collection[int], by: User | None) -> None:
    """Put the lines of the estimate on the ticket, whatever the shop added or dropped since: that was agreed to."""
    variant = ticket.variants.filter(pk=key, dropped=False).first()
    if variant is None:
        raise ValidationError("This is not offered any more. Please ask the shop for a new estimate.")
    Variant.objects.filter(pk=variant.pk).update(taken=True)
    for line in variant.lines.filter(pk__in=lines).select_related("part"):
        if line.part is None:
            labour = labour_of(ticket, line)
            labour.by = by
            line.labour_line = keep_labour(labour)
        else:
            part_line = part_line_of(ticket, line)
            part_line.by, part_line.at = by, timezone.now()
            line.part_line = add_priced(part_line)
        line.save(update_fields=["labour_line", "part_line"])


def _give_up(variant: Variant, by: User | None) -> None:
    lines = list(VariantLine.objects.filter(variant=variant).select_related("labour_line__ticket__shop", "part_line"))
    used = [line for line in lines if line.part_line and line.part_line.status == PartLine.Status.USED]
    if used:
        raise ValidationError(f"“{used[0].title}” of “{variant.name}” is used already. Please call the shop.")
    Variant.objects.filter(pk=variant.pk).update(taken=False)
    for line in lines:
        if line.labour_line is not None:
            drop_labour(line=line.labour_line, by=by)
        if line.part_line is not None and line.part_line.status == PartLine.Status.NEEDED:
            drop_part_line(line=line.part_line, by=by)
        line.labour_line = line.part_line = None
        line.save(update_fields=["labour_line", "part_line"])
