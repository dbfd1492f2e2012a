"""The complaints to tick: each under the kind of unit that has it, what the shop sees often first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.db.models import Count
from django.forms.boundfield import BoundWidget

from specs.facts import choices
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket

EITHER = "either"
LATEST = 200  # tickets; what came in long ago says little of what will


@dataclass(frozen=True)
class ComplaintGroup:
    """The tick boxes of one kind of unit: `kind` is fork, shock or either."""

    kind: str
    label: str
    boxes: list[BoundWidget]


def how_often(shop: Shop) -> Mapping[int, int]:
    """How many of the shop's latest tickets had each complaint, by its key; one query."""
    latest = Ticket.objects.of_shop(shop).order_by("-number").values("pk")[:LATEST]
    had = Ticket.complaints.through.objects.filter(ticket__in=latest).values_list("complaint")
    return dict(had.annotate(Count("pk")).values_list("complaint", "pk__count"))


def complaint_groups(form: forms.Form, often: Mapping[int, int], *, kind: str = "") -> list[ComplaintGroup]:
    """The boxes of the form's complaints by kind. With `kind`, only its own, and what of others is ticked already."""
    ticked = {str(key) for key in form["complaints"].value() or ()}
    boxes: dict[str, list[BoundWidget]] = {}
    for box in sorted(form["complaints"], key=lambda box: -often.get(_complaint(box).pk, 0)):
        suits = _complaint(box).suits
        if not kind or kind in suits or str(box.data["value"]) in ticked:
            boxes.setdefault(suits[0] if len(suits) == 1 else EITHER, []).append(box)
    labels = [(key, f"Of a {words}") for key, words in choices("kind")] + [(EITHER, "Of either")]
    return [ComplaintGroup(key, label, boxes[key]) for key, label in labels if key in boxes]


def _complaint(box: BoundWidget) -> Any:
    return box.data["value"].instance
