"""Before a ticket is ready or handed back: of each part, was it used? One page, kept with the press that asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Max
from django.http import HttpResponse
from django.shortcuts import render

from workshop.bench.part_forms import quantity_form_field
from workshop.tickets.models import PartLine, Ticket
from workshop.web.middleware import PAGE_PERSON
from workshop.web.number_words import figures
from workshop.web.requests import ShopRequest
from workshop.work.event_words import logged_words
from workshop.work.unresolved import PartAnswer, PartAnswersRefused, resolve_parts, unresolved_lines

REFUSED = 422
ASKED = "parts_asked"
USED, NOT_USED = "used", "not_used"
KEPT = "What became of the parts is kept."


class PartsForm(forms.Form):
    """A choice and a quantity for each line."""

    def __init__(self, data: Mapping[str, Any] | None = None, *, lines: Sequence[PartLine]) -> None:
        super().__init__(data)
        self.lines = lines
        for line in lines:
            self.fields[f"became-{line.pk}"] = forms.ChoiceField(
                label=line.title,
                choices=[(USED, "Used"), (NOT_USED, "Not used")],
                widget=forms.RadioSelect,
                error_messages={"required": "Say whether it was used."},
            )
            quantity = quantity_form_field()
            quantity.required = False
            quantity.label = f"How much of {line.title}"
            quantity.initial = figures(line.quantity)
            self.fields[f"quantity-{line.pk}"] = quantity
            self.fields[f"seen-{line.pk}"] = forms.DecimalField(
                required=False,
                max_digits=8,
                decimal_places=2,
                widget=forms.HiddenInput,
                initial=figures(line.quantity),
            )

    @property
    def rows(self) -> list[tuple[PartLine, forms.BoundField, forms.BoundField, forms.BoundField]]:
        """Each line with its fields."""
        return [
            (line, self[f"became-{line.pk}"], self[f"quantity-{line.pk}"], self[f"seen-{line.pk}"])
            for line in self.lines
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for line in self.lines:
            name = f"quantity-{line.pk}"
            if cleaned.get(f"became-{line.pk}") != USED:
                self.errors.pop(name, None)  # what was not used needs no quantity
            elif cleaned.get(name) is None and name not in self.errors:
                self.add_error(name, "Enter how much was used.")
        return cleaned

    @property
    def answers(self) -> list[PartAnswer]:
        """What was answered; the form is valid."""
        given = self.cleaned_data
        return [
            PartAnswer(
                line.pk,
                given[f"quantity-{line.pk}"] if given[f"became-{line.pk}"] == USED else None,
                line.quantity if given.get(f"seen-{line.pk}") is None else given[f"seen-{line.pk}"],
            )
            for line in self.lines
        ]

    def take_refused(self, reasons: Mapping[int, str]) -> None:
        """Put each reason beside its line."""
        for line_pk, reason in reasons.items():
            name = f"became-{line_pk}"
            self.add_error(name if name in self.fields else None, reason)


def resolve_first(request: ShopRequest, ticket: Ticket, then: str) -> HttpResponse | None:
    """Keep the answers that came with a press, so that it may go on; the page again where they cannot be kept.

    Args:
        then: what the press does after that, in words for its button.
    """
    if ASKED not in request.POST:
        return None
    form = PartsForm(request.POST, lines=unresolved_lines(ticket))
    if form.is_valid():
        newest = ticket.events.aggregate(newest=Max("pk"))["newest"] or 0
        try:
            resolve_parts(ticket=ticket, answers=form.answers, by=request.user)
        except PartAnswersRefused as refused:
            form.take_refused(refused.reasons)
        except ValidationError as refused:
            form.add_error(None, refused)
        else:
            if form.lines:
                messages.success(request, KEPT)
            for event in ticket.events.filter(kind="batch_out_of_date", pk__gt=newest):
                messages.warning(request, f"{logged_words(event, request.shop)}.")
            return None
    return _page(request, ticket, form, then)


def ask_parts(request: ShopRequest, ticket: Ticket, then: str) -> HttpResponse:
    """Ask of each part what became of it; whatever was typed before goes along."""
    return _page(request, ticket, PartsForm(lines=unresolved_lines(ticket)), then)


def _page(request: ShopRequest, ticket: Ticket, form: PartsForm, then: str) -> HttpResponse:
    own = {"csrfmiddlewaretoken", PAGE_PERSON, ASKED}
    along = [
        (name, value)
        for name, values in request.POST.lists()
        if name not in own and not name.startswith(("became-", "quantity-", "seen-"))
        for value in values
    ]
    context = {"ticket": ticket, "form": form, "along": along, "then": then, "address": request.path}
    return render(request, "bench/resolve_parts.html", context, status=REFUSED)
