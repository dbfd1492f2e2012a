"""Choosing a file, and saying which of its columns is which."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from workshop.sheets.books import MOST_ROWS
from workshop.sheets.columns import decimal_signs
from workshop.sheets.kind import SheetKind
from workshop.sheets.models import Sheet
from workshop.sheets.reading import too_large
from workshop.sheets.table import Cell

_CHUNKS_LOOKED_AT = 4
_SAMPLES = 3
_LONGEST_SAMPLE = 40
_EACH = "each"  # a value of its own, so that it is chosen by nobody but a person where it is asked
_SIGNS = (
    (".", "A point, as in 12.5"),
    (",", "A comma, as in 12,5"),
    (_EACH, "Each as it stands; what could be two numbers is refused"),
)


class SheetForm(forms.Form):
    """A file to bring in."""

    file = forms.FileField(label="File", error_messages={"required": "Choose a file.", "empty": "The file is empty."})

    def __init__(self, *args: Any, kind: SheetKind, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].help_text = (
            f"CSV or .xlsx, at most {kind.most_bytes // 1024**2} MB and {kind.most_rows:,} rows; of a workbook "
            f"{MOST_ROWS:,}. Every row of it is looked at, or the file is refused."
        )
        self.kind = kind

    def clean_file(self) -> UploadedFile[bytes]:
        file: UploadedFile[bytes] = self.cleaned_data["file"]
        if file.size is None or file.size > self.kind.most_bytes:
            limits = {"most_bytes": self.kind.most_bytes, "most_rows": self.kind.most_rows}
            raise forms.ValidationError(str(too_large(file.chunks(), **limits)))
        return file


class MatchingForm(forms.Form):
    """For each column of the file the column of the layout it is, and how its numbers are written.

    What could be read in two ways is asked: then the sign has no choice made beforehand.
    """

    def __init__(self, *args: Any, sheet: Sheet, kind: SheetKind, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = [row for chunk in sheet.chunks.all()[:_CHUNKS_LOOKED_AT] for row in chunk.rows]
        choices = [("", "Leave it out"), *((column.name, f"{column.name}: {column.words}") for column in kind.columns)]
        self.names = [f"column-{n}" for n in range(len(sheet.heads))]
        for n, (name, head) in enumerate(zip(self.names, sheet.heads, strict=True)):
            self.fields[name] = forms.ChoiceField(
                choices=choices,
                required=False,
                label=head or f"Column {n + 1}, without a head",
                initial=sheet.matching[n],
                help_text=_samples(rows, n),
            )
        numeric = {column.name for column in kind.columns if column.decimals is not None}
        places = [n for n, name in enumerate(sheet.matching) if name in numeric]
        signs, doubtful = decimal_signs(
            cell for _, cells, _ in rows for n in places if n < len(cells) and isinstance(cell := cells[n], str)
        )
        self.fields["decimal_sign"] = forms.ChoiceField(
            label="Before decimals there is",
            choices=_SIGNS,
            required=False,
            widget=forms.RadioSelect,
            initial=sheet.decimal_sign or (next(iter(signs)) if len(signs) == 1 else None if doubtful else _EACH),
            help_text=_asked(signs, doubtful, len(rows) if len(rows) < sheet.rows_in_all else 0),
        )
        self.must_say = bool(doubtful) and len(signs) != 1

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.must_say and not cleaned.get("decimal_sign"):
            self.add_error("decimal_sign", "Say which it is: the file has numbers that could be read in two ways.")
        return cleaned

    @property
    def matching(self) -> Sequence[str]:
        return [self.cleaned_data[name] for name in self.names]

    @property
    def decimal_sign(self) -> str:
        chosen: str = self.cleaned_data["decimal_sign"]
        return "" if chosen == _EACH else chosen

    @property
    def columns(self) -> list[forms.BoundField]:
        return [self[name] for name in self.names]


def _samples(rows: Sequence[Sequence[Any]], n: int) -> str:
    found: list[str] = []
    for _, cells, _ in rows:
        cell: Cell = cells[n] if n < len(cells) else ""
        text = cell if isinstance(cell, str) else cell[0]
        if text and text not in found:
            found.append(text)
        if len(found) == _SAMPLES:
            break
    shown = [text if len(text) <= _LONGEST_SAMPLE else f"{text[: _LONGEST_SAMPLE - 1]}…" for text in found]
    return " · ".join(shown) or "nothing in the first rows"


def _asked(signs: set[str], doubtful: Sequence[str], looked_at: int) -> str:
    """What the numbers say of their sign; `looked_at` is 0 where all rows were, else how many."""
    others = f"other numbers of the first {looked_at:,} rows" if looked_at else "other numbers of this file"
    if len(signs) == 1:
        return f"As {others} show."
    if doubtful:
        return f"“{doubtful[0]}” could be read in two ways, and no {others.replace('numbers', 'number', 1)} says which."
    if not signs:
        return ""
    return f"Both signs stand in the first {looked_at:,} rows." if looked_at else "Both signs stand in this file."
