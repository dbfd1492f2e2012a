"""Everything the shop holds, as CSV in one zip file that is written while it is sent."""

from __future__ import annotations

import datetime as dt
import zipfile
import zoneinfo
from collections.abc import Iterable, Iterator

from django.utils import timezone

from specs.value_files import safe_cell
from workshop.moving.layout_files import LAYOUT_FILES
from workshop.moving.tables import batches_of, columns_described, columns_moved, file_of, tables
from workshop.staff.models import Shop
from workshop.web.csv_files import as_csv, csv_lines

DESCRIPTION = "description.csv"
_COLUMNS = ("file", "column", "what it is", "unit or words", "points at")
_READ_ME = """Everything that {shop} holds, as of {when}.

All files are CSV: UTF-8 with a byte order mark, comma, a point before decimals, days as 2026-03-31. A cell that a
spreadsheet would run as a formula has an apostrophe in front, which is no part of it.

The files beside this one are in the layout in which another shop of this app brings them in, in this order:
models, values, suppliers, parts, kits, customers, bikes, units.
The folder `tables` has every table as it is kept, with its keys: quantities in SI, moments in UTC.
description.csv says of each file and column what it is, its unit, and the file and column it points at.

Left out: pass words, second factors and secret links, by which somebody could enter; and sheets that were brought in.
Photos and issued papers are files of their own: the tables name them, and a backup holds them.
"""


class _Sink:
    """What the zip was given since it was last taken."""

    def __init__(self) -> None:
        self.pieces: list[bytes] = []

    def write(self, piece: bytes) -> int:
        self.pieces.append(bytes(piece))
        return len(piece)

    def flush(self) -> None:
        """Nothing waits here."""

    def close(self) -> None:
        """Nothing is open here."""

    def take(self) -> bytes:
        taken, self.pieces = b"".join(self.pieces), []
        return taken


def everything(shop: Shop) -> Iterator[bytes]:
    """The zip in pieces, each of some hundred rows. Between two of them nothing of the database is held."""
    sink, zone = _Sink(), zoneinfo.ZoneInfo(shop.time_zone)
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, pieces in _files(shop):
            member = zipfile.ZipInfo(name, timezone.now().timetuple()[:6])
            member.compress_type = zipfile.ZIP_DEFLATED
            with archive.open(member, "w", force_zip64=True) as file:
                waiting = iter(pieces)
                while True:
                    with timezone.override(zone):
                        piece = next(waiting, None)
                    if piece is None:
                        break
                    file.write(piece)
                    if taken := sink.take():
                        yield taken
    yield sink.take()


def _files(shop: Shop) -> Iterator[tuple[str, Iterable[bytes]]]:
    when = dt.datetime.now(zoneinfo.ZoneInfo(shop.time_zone)).strftime("%Y-%m-%d %H:%M")
    yield "read me.txt", [_READ_ME.format(shop=shop.name, when=when).encode()]
    yield DESCRIPTION, [as_csv([_COLUMNS, *([safe_cell(cell) for cell in row] for row in description())])]
    for layout in LAYOUT_FILES:
        yield layout.name, _written([column.name for column in layout.kind.columns], layout.batches(shop))
    for table in tables():
        yield file_of(table), _written([field.attname for field in columns_moved(table)], batches_of(table, shop))


def description() -> Iterator[tuple[str, str, str, str, str]]:
    """File, column, what it is, unit, and what it points at."""
    for layout in LAYOUT_FILES:
        for column in layout.kind.columns:
            yield layout.name, column.name, column.words, column.unit, column.points_at
    yield from columns_described()


def _written(columns: list[str], batches: Iterable[list[list[str]]]) -> Iterator[bytes]:
    yield as_csv([columns])
    for batch in batches:
        yield csv_lines(batch)
