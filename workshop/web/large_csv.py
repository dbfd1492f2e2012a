"""A CSV file of any length: written row by row, handed out piece by piece, never in memory as a whole."""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Iterable, Iterator, Sequence

from django.http import FileResponse, HttpResponse

PIECE_CHARACTERS = 64 << 10


def csv_pieces(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[bytes]:
    """UTF-8 with a byte order mark, as spreadsheets want it, in pieces of some ten thousand characters.

    The cells go in as they are: words that a spreadsheet could take for a formula are made safe by the caller.
    """
    piece = io.StringIO(newline="")
    writer = csv.writer(piece)
    piece.write("\ufeff")
    writer.writerow(columns)
    for row in rows:
        writer.writerow(row)
        if piece.tell() >= PIECE_CHARACTERS:
            yield piece.getvalue().encode()
            piece.seek(0)
            piece.truncate()
    yield piece.getvalue().encode()


def csv_to_take_away(pieces: Iterable[bytes], name: str) -> HttpResponse:
    """An answer with such a file. It lies on the disk first, so what fails fails before anything went out."""
    file = tempfile.TemporaryFile()  # noqa: SIM115  the answer closes it
    try:
        for piece in pieces:
            file.write(piece)
        file.seek(0)
    except BaseException:
        file.close()
        raise
    return FileResponse(  # type: ignore[return-value]  # views say HttpResponse, as their decorators do
        file, as_attachment=True, filename=name, content_type="text/csv; charset=utf-8"
    )
