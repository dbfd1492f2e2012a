"""Lines and readings of a step's form that come and go while it is typed. Nothing is judged or saved by it."""

from __future__ import annotations

from django.http import QueryDict

from workshop.checklists.layout_form import MOST_ROWS
from workshop.web.converters import key_from

MORE, LESS = "more", "less"
FIRST_FIELD = {"do": "text", "readings": "label"}
"""Lists whose rows come and go, and the field of a row that is typed first."""


def with_rows_asked(sent: QueryDict) -> tuple[QueryDict, str]:
    """What was sent with a row more or less, and the list it is of; as it was sent where no row was asked for.

    `more=do` adds a line at the end, `less=do.2` takes the third one out. What names no row changes nothing.
    """
    if (added := str(sent.get(MORE, ""))) in FIRST_FIELD:
        return _with_one_more(sent, added), added
    name, _, place = str(sent.get(LESS, "")).partition(".")
    if name not in FIRST_FIELD or (gone := key_from(place)) is None:
        return sent, ""
    return _without(sent, name, gone), name


def newest_field(sent: QueryDict, name: str) -> str:
    """The field in which the last row of a list is begun; nothing where it has none."""
    places = places_of(sent, name)
    return f"{name}.{places[-1]}.{FIRST_FIELD[name]}" if places else ""


def places_of(sent: QueryDict, name: str) -> list[int]:
    """The places of a list that were sent, in order."""
    parts = [key.split(".") for key in sent if key.startswith(f"{name}.")]
    places = {key_from(one[1]) for one in parts if len(one) > 2}
    return sorted(place for place in places if place is not None)


def _with_one_more(sent: QueryDict, name: str) -> QueryDict:
    changed = sent.copy()
    place = max(places_of(sent, name), default=-1) + 1
    if place < MOST_ROWS:
        changed[f"{name}.{place}.{FIRST_FIELD[name]}"] = ""
        if name == "do":
            changed[f"do.{place}.place"] = str(place + 1)
    return changed


def _without(sent: QueryDict, name: str, gone: int) -> QueryDict:
    """The rows after it move up, and so do their places where nobody typed another."""
    changed = QueryDict(mutable=True)
    for key, values in sent.lists():
        parts = key.split(".")
        place = key_from(parts[1]) if parts[0] == name and len(parts) > 2 else None
        if place is None or place < gone:
            changed.setlist(key, values)
        elif place > gone:
            moved = [str(place)] if parts[2] == "place" and values == [str(place + 1)] else values
            changed.setlist(".".join([name, str(place - 1), *parts[2:]]), moved)
    return changed
