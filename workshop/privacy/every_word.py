"""Taking a person out of everything that anybody could have typed about them, found by the keys of the tables.

What erasing names one by one comes first, and may empty a column. This goes through all the rest, so that a new column
of words on a ticket, a fork or a bike is looked through from its first day.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

from django.db import models
from django.db.models import QuerySet

from diagnosis.models import Reading, Tick, ToldOtherwise
from workshop.customers.models import Customer
from workshop.privacy.scrubbing import scrub_strings
from workshop.tickets.models import Visit

# Nobody types these: keys, numbers, digests and paths of ours, and what is searched, which follows from the rest.
_MADE_BY_US = frozenset({
    "attached", "currency", "data_digest", "digest", "drawing", "file", "files_to_remove", "fit", "kind", "marks",
    "measured", "message_id", "paper", "pdf", "role", "search_text", "secret_digest", "tax_name", "tax_rows",
    "thumbnail",
})  # fmt: skip
# What stays whole: a serial is the unit's, and these are keys or were read as numbers; words kept for searching alone.
_STAYS = frozenset({
    "SuspensionUnit.serial", "BoltRecord.typed", "ForkMeasurement.lines", "Reading.key", "Reading.typed",
    "ToldOtherwise.part", "ToldOtherwise.value", "TicketWords.text",
})  # fmt: skip


@cache
def ways_to_a_customer() -> tuple[tuple[type[models.Model], str], ...]:
    """Each table that leads to a customer, with the look-up that does; one may lead by several ways."""
    found: list[tuple[type[models.Model], str]] = []
    through: list[tuple[type[models.Model], str]] = [(Customer, "")]
    known: set[type[models.Model]] = {Customer}
    for model, way in through:  # grows as it goes
        for relation in model._meta.related_objects:
            record = relation.related_model
            if relation.many_to_many or record is Customer:
                continue
            path = f"{relation.field.name}__{way}" if way else relation.field.name
            found.append((record, path))
            if record not in known:
                known.add(record)
                through.append((record, path))
    return tuple(found)


def columns_of_words(model: type[models.Model]) -> tuple[str, ...]:
    """Columns in which words can stand that somebody typed: texts, and lists and forms with texts in them."""
    return tuple(
        field.name
        for field in model._meta.local_concrete_fields
        if isinstance(field, models.CharField | models.TextField | models.JSONField)
        and not field.choices
        and field.name not in _MADE_BY_US
        and f"{model.__name__}.{field.name}" not in _STAYS
    )


def scrub_every_word(customer: Customer, scrub: Callable[[str], str]) -> int:
    """Scrub every row that leads to a customer but their own; returns how many rows changed. In a transaction."""
    return sum(_scrub_rows(rows, scrub) for rows in _rows_of(customer))


def _rows_of(customer: Customer) -> Iterator[QuerySet[Any]]:
    for model, way in ways_to_a_customer():
        yield model._base_manager.filter(**{way: customer})
    yield Visit.objects.filter(tickets__customer=customer).distinct()
    for record in (Tick, ToldOtherwise, Reading):  # a run is of its ticket by a table between them
        yield record._base_manager.filter(run__in=customer.tickets.values("ticket_runs__run"))


def _scrub_rows(rows: QuerySet[Any], scrub: Callable[[str], str]) -> int:
    columns = columns_of_words(rows.model)
    changed = 0
    for values in rows.values("pk", *columns) if columns else ():
        clean = {name: _clean(rows.model, name, values[name], scrub) for name in columns}
        clean = {name: value for name, value in clean.items() if value != values[name]}
        if clean:
            rows.model._base_manager.filter(pk=values["pk"]).update(**clean)
            changed += 1
    return changed


def _clean(model: type[models.Model], name: str, value: Any, scrub: Callable[[str], str]) -> Any:
    cleaned = scrub_strings(value, scrub)
    longest = getattr(model._meta.get_field(name), "max_length", None)
    return cleaned[:longest] if isinstance(cleaned, str) and longest else cleaned
