"""Rows of one sheet that are about the same: which of them is taken."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from workshop.sheets.kind import SheetKind
from workshop.sheets.models import Sheet, SheetRow

_NAMED = 5
Fate = SheetRow.Fate


def refuse_repeats(sheet: Sheet, kind: SheetKind, rows: Sequence[SheetRow]) -> list[SheetRow]:
    """Refuse rows that are about the same as one before, and return those of which it is to be said what they do.

    Where it cannot be told which is right, those that came before are refused too.
    """
    keys = {row.key for row in rows if row.key}
    before = sheet.rows.filter(position__lt=sheet.handled, key__in=keys)
    of_key: dict[str, list[SheetRow]] = defaultdict(list)
    for row in (*before, *(row for row in rows if row.key and row.fate != Fate.REFUSED)):
        of_key[row.key].append(row)
    repeated = {key: found for key, found in of_key.items() if len(found) > 1}
    now = {id(row) for row in rows}
    earlier: list[SheetRow] = []
    for found in repeated.values():
        for row in found if kind.twice_is_doubtful else found[1:]:
            if row.fate == Fate.REFUSED:
                continue  # it says why already
            row.fate = Fate.REFUSED
            row.reason = _in_doubt(row, found) if kind.twice_is_doubtful else kind.twice(found[0].place)
            row.changes, row.before = [], {}
            if id(row) not in now:
                earlier.append(row)
    SheetRow.objects.bulk_update(earlier, ["fate", "reason", "changes", "before"], batch_size=100)
    return [row for row in rows if row.fate != Fate.REFUSED]


def _in_doubt(row: SheetRow, found: Sequence[SheetRow]) -> str:
    others = [str(other.place) for other in found if other is not row]
    more = f" and {len(others) - _NAMED} more" if len(others) > _NAMED else ""
    said = f"line {others[0]}" if len(others) == 1 else f"lines {', '.join(others[:_NAMED])}{more}"
    return f"The file gives this again in {said}. Keep the right one; which that is cannot be told here."


def hold_back(sheet: Sheet, kind: SheetKind, rows: Sequence[SheetRow]) -> None:
    """Hold rows back that seem to be about the same as one before, until a person says that they are another.

    Call it of rows of which it is said what they would do. Three queries, where rows can be so at all.
    """
    rows = [row for row in rows if row.fate != Fate.REFUSED]
    if not any(row.second_key or row.third_key for row in rows):
        return
    before = sheet.rows.filter(position__lt=sheet.handled).exclude(fate=Fate.REFUSED)
    by_key: dict[tuple[str, str], SheetRow] = {}
    for names in ("second_key", "third_key"):
        _first_of(names, before.filter(**{f"{names}__in": {getattr(row, names) for row in rows} - {""}}), by_key)
    _first_of("about", before.filter(about__in={row.about for row in rows if row.about}), by_key)
    for row in rows:
        same = _same_as(kind, row, by_key)
        for name in _KEYS:
            _first_of(name, [row], by_key)
        if same is not None:
            row.fate, row.same_as = Fate.TWICE, same.place
            row.reason = held_because(kind, row, same)


def held_because(kind: SheetKind, row: SheetRow, same: SheetRow) -> str:
    return f"Same {kind.shared(row, same)} as line {same.place}, so it is left out."


_KEYS = ("second_key", "third_key", "about")


def _first_of(name: str, rows: Iterable[SheetRow], by_key: dict[tuple[str, str], SheetRow]) -> None:
    for row in rows:
        if value := getattr(row, name):
            by_key.setdefault((name, str(value)), row)


def _same_as(kind: SheetKind, row: SheetRow, by_key: dict[tuple[str, str], SheetRow]) -> SheetRow | None:
    """The row before that seems to be about the same; None where there is none, or one that is said to be another."""
    if row.about:  # on record already: another row is the same only where it is the same record
        return by_key.get(("about", str(row.about)))
    for name in ("second_key", "third_key"):
        same = by_key.get((name, getattr(row, name)))
        if same is not None and not kind.is_said_to_be_another(row, same):
            return same
    return None
