"""The passes over a sheet: look at it, import it, take it back. Each step is one short transaction, so nobody waits.

A step that is pressed twice, or by two pages at once, is done once: whoever asks says how far they saw it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import itertools
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import transaction
from django.db.models import Count, Q
from django.utils import timezone

from specs.value_files import UnreadableFile
from workshop.apart.kinds import SHEETS
from workshop.apart.working import NotDone, work_apart
from workshop.sheets.books import number_words
from workshop.sheets.columns import guess, says_it_itself, with_sign
from workshop.sheets.kind import SheetKind
from workshop.sheets.models import Sheet, SheetChunk, SheetRow
from workshop.sheets.pieces import TableInPieces, read_in_pieces
from workshop.sheets.repeats import held_because, hold_back, refuse_repeats
from workshop.sheets.table import Cell, TableRow
from workshop.staff.models import Shop, User

ROWS_READ_AT_ONCE = 1000
ROWS_IN_A_CHUNK = 500
ROWS_WRITTEN_AT_ONCE = 25  # a quarter of a second on a small machine: a tick of the bench waits no longer
KEPT_FOR = dt.timedelta(days=30)
TAKEN_BACK_WITHIN = dt.timedelta(days=7)

LONGEST_KEY = 120
MOST_SAID_AT_ONCE = 200

State, Fate, Outcome = Sheet.State, SheetRow.Fate, SheetRow.Outcome


class SheetNotReady(ValueError):
    """What was asked does not fit how far the sheet is; the message says so."""


class MatchingRefused(ValueError):
    """Columns of the file do not fit those of the layout; the message says so."""


def bring_in(*, shop: Shop, kind: SheetKind, name: str, content: bytes, by: User | None) -> Sheet:
    """Keep the rows of a file; nothing of them is looked at yet. Raises UnreadableFile where it cannot be read.

    A file in our own layout is looked at next; of any other the columns are matched first. It is read before the
    transaction: no writer waits for it.
    """
    try:
        table = work_apart(SHEETS, read_in_pieces, content, most_bytes=kind.most_bytes, most_rows=kind.most_rows)
    except NotDone as reason:
        raise UnreadableFile(str(reason)) from reason
    return _keep(shop, kind, name, table, by)


@transaction.atomic
def _keep(shop: Shop, kind: SheetKind, name: str, table: TableInPieces, by: User | None) -> Sheet:
    _forget_old(shop)
    sheet = Sheet(shop=shop, kind=kind.key, name=name[:120], rows_in_all=table.rows_in_all, by=by, at=timezone.now())
    sheet.heads, sheet.notes, sheet.matching = table.heads, table.notes, guess(kind.columns, table.heads)
    is_ours = says_it_itself(kind.columns, table.heads) and not table.notes
    sheet.state = State.LOOKING if is_ours else State.MATCHING
    sheet.save()
    firsts = itertools.count(0, ROWS_IN_A_CHUNK)
    SheetChunk.objects.bulk_create(
        SheetChunk(sheet=sheet, first=first, rows=[[row.place, row.cells, row.fault] for row in rows])
        for first, rows in zip(firsts, in_chunks(table.rows(), ROWS_IN_A_CHUNK), strict=False)
    )
    return sheet


@transaction.atomic
def match_columns(*, shop: Shop, kind: SheetKind, pk: int, matching: Sequence[str], decimal_sign: str) -> Sheet:
    """Say which column is which, and how numbers are written (“,” or “.”; "" takes each as it stands).

    Raises:
        SheetNotReady: it was looked at, or more, already.
        MatchingRefused: a column is missing, or there twice.
    """
    sheet = _locked(shop, kind, pk)
    if sheet.state != State.MATCHING:
        raise SheetNotReady(f"This sheet is {sheet.get_state_display().lower()}: its columns are matched already.")
    names = [column.name for column in kind.columns]
    chosen = [name for name in matching if name]
    if len(matching) != len(sheet.heads) or not set(chosen) <= set(names) or decimal_sign not in ("", ",", "."):
        raise MatchingRefused("The columns did not arrive whole. Choose them again.")
    if twice := sorted({name for name in chosen if chosen.count(name) > 1}):
        raise MatchingRefused(f"Two columns of the file are “{twice[0]}”. Leave one of them out.")
    if missing := [column.name for column in kind.columns if column.required and column.name not in chosen]:
        raise MatchingRefused(f"No column of the file is “{missing[0]}”, and every {kind.thing} needs one.")
    sheet.matching, sheet.decimal_sign = list(matching), decimal_sign
    sheet.state, sheet.handled = State.LOOKING, 0
    sheet.save()
    return sheet


@transaction.atomic
def match_anew(*, shop: Shop, kind: SheetKind, pk: int) -> Sheet:
    """Back to the columns, as long as nothing was imported. Raises SheetNotReady."""
    sheet = _locked(shop, kind, pk)
    if sheet.state not in (State.MATCHING, State.LOOKING, State.LOOKED) or not sheet.chunks.exists():
        raise SheetNotReady(f"This sheet is {sheet.get_state_display().lower()}: its columns stay as they are.")
    sheet.rows.all()._raw_delete(using=sheet.rows.db)  # nothing points at a row
    sheet.state, sheet.handled = State.MATCHING, 0
    sheet.save()
    return sheet


def _rows_of_chunk(sheet: Sheet, kind: SheetKind) -> list[SheetRow]:
    """The next rows of the file by the columns that were matched, not saved yet."""
    chunk = sheet.chunks.filter(first__lte=sheet.handled).last()
    return [] if chunk is None else [_row_of(sheet, kind, chunk.first + n, *row) for n, row in enumerate(chunk.rows)]


def _row_of(sheet: Sheet, kind: SheetKind, position: int, place: int, cells: Sequence[Cell], fault: str) -> SheetRow:
    by_name = {column.name: column for column in kind.columns}
    matched = {name: cell for name, cell in zip(sheet.matching, cells, strict=False) if name}
    named: dict[str, str] = {}
    for name, cell in matched.items():
        column, is_number = by_name[name], kind.holds_number(by_name[name], matched)
        text = number_words(cell, decimals=column.decimals if is_number else None)
        named[name] = with_sign(text, sheet.decimal_sign) if (
            sheet.decimal_sign and is_number and isinstance(cell, str)
        ) else text  # fmt: skip
    row = SheetRow(sheet=sheet, position=position, place=place, cells=named, key=_short(kind.key_of(named)))
    row.second_key, row.third_key = map(_short, kind.other_keys_of(named))
    if fault:
        row.fate, row.reason = Fate.REFUSED, fault
    return row


def _short(key: str) -> str:
    """A key in the length that is kept; of a longer one what stands for it alone."""
    return key if len(key) <= LONGEST_KEY else hashlib.sha256(key.encode()).hexdigest()


def _forget_old(shop: Shop) -> None:
    """The rows of sheets from long ago; that they were imported, by whom and when stays."""
    old = Sheet.objects.filter(shop=shop, at__lt=timezone.now() - KEPT_FOR)
    SheetRow.objects.filter(sheet__in=old).delete()
    SheetChunk.objects.filter(sheet__in=old).delete()
    old.filter(imported_at=None).delete()


@transaction.atomic
def go_on(*, shop: Shop, kind: SheetKind, pk: int, seen: tuple[str, int], by: User | None) -> Sheet:
    """The next step of the pass that is under way, unless it is further than was `seen` (state and rows handled)."""
    sheet = _locked(shop, kind, pk)
    if sheet.is_running and (sheet.state, sheet.handled) == seen:
        {State.LOOKING: _look, State.IMPORTING: _write, State.TAKING_BACK: _take_back}[State(sheet.state)](
            sheet, kind, by
        )
        sheet.save()
    return sheet


@transaction.atomic
def begin_import(*, shop: Shop, kind: SheetKind, pk: int, by: User | None, with_counts: bool) -> Sheet:
    """Say yes to what was shown, or go on after a stop. Raises SheetNotReady."""
    sheet = _locked(shop, kind, pk)
    if sheet.state == State.IMPORTING:
        return sheet
    if not sheet.may_be_imported:
        raise SheetNotReady(f"This sheet is {sheet.get_state_display().lower()}: it cannot be imported now.")
    if sheet.state == State.LOOKED:
        sheet.handled, sheet.with_counts = 0, with_counts
        sheet.chunks.all().delete()
    sheet.state, sheet.imported_by, sheet.imported_at = State.IMPORTING, by, timezone.now()
    sheet.save()
    return sheet


@transaction.atomic
def stop_sheet(*, shop: Shop, kind: SheetKind, pk: int) -> Sheet:
    """No further step of an import; what was imported stays until it is taken back. Raises SheetNotReady."""
    sheet = _locked(shop, kind, pk)
    if sheet.state not in (State.IMPORTING, State.STOPPED):
        raise SheetNotReady(f"Nothing to stop: this sheet is {sheet.get_state_display().lower()}.")
    sheet.state = State.STOPPED
    sheet.save()
    return sheet


@transaction.atomic
def begin_taking_back(*, shop: Shop, kind: SheetKind, pk: int) -> Sheet:
    """Put back all that the sheet changed, the last row first. Raises SheetNotReady."""
    sheet = _locked(shop, kind, pk)
    if sheet.state == State.TAKING_BACK:
        return sheet
    if not sheet.may_be_taken_back:
        raise SheetNotReady(f"This sheet is {sheet.get_state_display().lower()}: there is nothing to take back.")
    if sheet.imported_at is None or sheet.imported_at < timezone.now() - TAKEN_BACK_WITHIN:
        raise SheetNotReady(f"It was imported more than {TAKEN_BACK_WITHIN.days} days ago, so it stays.")
    sheet.state, sheet.handled = State.TAKING_BACK, 0
    sheet.save()
    return sheet


@transaction.atomic
def throw_away(*, shop: Shop, kind: SheetKind, pk: int) -> None:
    """A sheet of which nothing was imported. Raises SheetNotReady."""
    sheet = _locked(shop, kind, pk)
    if sheet.state not in (State.MATCHING, State.LOOKING, State.LOOKED):
        raise SheetNotReady(f"This sheet is {sheet.get_state_display().lower()}; it stays in the list.")
    sheet.delete()


@transaction.atomic
def say_of_held(
    *, shop: Shop, kind: SheetKind, pk: int, rows: Collection[int], are_others: bool, by: User | None
) -> Sheet:
    """Say of rows that were held back whether they are about others all the same. At most `MOST_SAID_AT_ONCE` of them.

    Raises:
        SheetNotReady: it is not looked at, or imported already.
    """
    sheet = _locked(shop, kind, pk)
    if sheet.state != State.LOOKED:
        raise SheetNotReady(f"This sheet is {sheet.get_state_display().lower()}: its rows stay as they were shown.")
    held = list(sheet.rows.filter(pk__in=rows, same_as__isnull=False)[:MOST_SAID_AT_ONCE])
    for row in held:
        row.is_another, row.reason = are_others, ""
        row.fate, row.changes, row.before = Fate.UNCHANGED, [], {}
    kind.look(shop=shop, rows=held, by=by)
    if not are_others:
        before = {row.place: row for row in sheet.rows.filter(place__in=[row.same_as for row in held])}
        for row in held:
            row.fate, row.reason = Fate.TWICE, held_because(kind, row, before[row.same_as or 0])
    columns = ["is_another", "fate", "reason", "changes", "before", "about"]
    SheetRow.objects.bulk_update(held, columns, batch_size=100)
    return sheet


def fates_of(sheet: Sheet) -> Mapping[str, int]:
    """How many rows have which fate or outcome, and with another count; one query."""
    return sheet.rows.aggregate(
        **{fate: Count("pk", filter=Q(fate=fate)) for fate in Fate.values},
        **{outcome: Count("pk", filter=Q(outcome=outcome)) for outcome in Outcome.values if outcome},
        counted=Count("pk", filter=Q(counts=True)),
    )


def _locked(shop: Shop, kind: SheetKind, pk: int) -> Sheet:
    """Raises Sheet.DoesNotExist."""
    return Sheet.objects.select_for_update(of=("self",)).get(shop=shop, kind=kind.key, pk=pk)


def _look(sheet: Sheet, kind: SheetKind, by: User | None) -> None:
    rows = list(sheet.rows.filter(position__gte=sheet.handled)[:ROWS_READ_AT_ONCE])
    fresh = [] if rows else _rows_of_chunk(sheet, kind)
    rows = rows or fresh[:ROWS_READ_AT_ONCE]
    to_say = refuse_repeats(sheet, kind, rows)
    said = kind.look(shop=sheet.shop, rows=to_say, by=by) if to_say else 0
    last = to_say[said].position if said < len(to_say) else (rows[-1].position + 1 if rows else sheet.rows_in_all)
    looked_at = [row for row in rows if row.position < last]
    hold_back(sheet, kind, looked_at)
    if fresh:
        SheetRow.objects.bulk_create(fresh, batch_size=500)
    else:
        said_of = [row for row in looked_at if row.fate != Fate.UNCHANGED or row.counts or row.before]
        columns = ["fate", "reason", "changes", "count", "counts", "before", "about", "same_as"]
        SheetRow.objects.bulk_update(said_of, columns, batch_size=100)
    sheet.handled = last
    if sheet.handled >= sheet.rows_in_all:
        sheet.state = State.LOOKED


def _write(sheet: Sheet, kind: SheetKind, by: User | None) -> None:
    at_once = kind.rows_at_once or ROWS_WRITTEN_AT_ONCE
    wanted = Q(fate__in=[Fate.NEW, Fate.CHANGED]) | (Q(counts=True) if sheet.with_counts else Q(pk=None))
    rows = list(sheet.rows.filter(wanted, position__gte=sheet.handled)[:at_once])
    asked = kind.begin_step(shop=sheet.shop, rows=rows)
    for row in rows:
        try:
            with transaction.atomic():
                kind.write(shop=sheet.shop, row=row, by=by, with_counts=sheet.with_counts, asked=asked)
            row.outcome = Outcome.IMPORTED
        except ValidationError as refused:
            row.outcome, row.said = Outcome.LEFT_OUT, sheet_refusal_in_words(refused)
    SheetRow.objects.bulk_update(rows, ["outcome", "said", "after", "about"], batch_size=100)
    sheet.handled = rows[-1].position + 1 if len(rows) == at_once else sheet.rows_in_all
    if sheet.handled >= sheet.rows_in_all:
        sheet.state = State.IMPORTED


def _take_back(sheet: Sheet, kind: SheetKind, by: User | None) -> None:
    """The last row first: `handled` counts from the end."""
    rows = list(sheet.rows.filter(outcome=Outcome.IMPORTED).order_by("-position")[:ROWS_WRITTEN_AT_ONCE])
    for row in rows:
        try:
            with transaction.atomic():
                row.said = kind.take_back(shop=sheet.shop, row=row, by=by)
        except ValidationError as refused:
            row.said = sheet_refusal_in_words(refused)
        row.outcome = Outcome.STAYS if row.said else Outcome.TAKEN_BACK
    SheetRow.objects.bulk_update(rows, ["outcome", "said"], batch_size=100)
    ended = len(rows) < ROWS_WRITTEN_AT_ONCE
    sheet.handled = sheet.rows_in_all if ended else sheet.rows_in_all - rows[-1].position
    if ended:
        sheet.state = State.TAKEN_BACK


def in_chunks(rows: Iterable[TableRow], size: int) -> Iterator[list[TableRow]]:
    rest = iter(rows)
    while chunk := list(itertools.islice(rest, size)):
        yield chunk


def sheet_refusal_in_words(refused: ValidationError) -> str:
    """What does not fit, with the column where there is one."""
    if hasattr(refused, "error_dict"):
        return " ".join(
            f"{'' if name == NON_FIELD_ERRORS else f'{name}: '}{' '.join(reasons)}"
            for name, reasons in refused.message_dict.items()
        )
    return " ".join(refused.messages)
