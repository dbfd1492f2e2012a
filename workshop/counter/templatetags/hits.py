"""What stands beside a hit of the search."""

from __future__ import annotations

from collections.abc import Sequence

from django import template
from django.utils.html import format_html_join
from django.utils.safestring import mark_safe

from workshop.tickets.models import Ticket
from workshop.web.chips import chip_of
from workshop.web.templatetags.shop import day

register = template.Library()


@register.simple_tag
def tickets_of_hit(tickets: Sequence[Ticket]) -> str:
    """Beside what a search found: state, number and day of each ticket. A tag, for an include each costs twice that."""
    if not tickets:
        return mark_safe('<span class="soft small">no ticket yet</span>')
    return format_html_join(
        "",
        '<span class="hit-ticket">{} <span class="soft small">{}, since {}</span></span>',
        (
            (
                chip_of(ticket.state, ticket.state_words),
                ticket.number,
                day(ticket.state_since, "j M"),
            )
            for ticket in tickets
        ),
    )
