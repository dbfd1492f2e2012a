"""Asking for the readings of a fork on the scales."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from specs.measured_readings import LinesRefused
from workshop.suspension.measured_models import ForkMeasurement

FIRST_LINE = "pressure; temperature; travel; force; direction\n"
MOST_SIGNS, MOST_BYTES = 60_000, 128 * 1024


class MeasureForm(forms.Form):
    """One reading a line, typed or from a file; a file goes before what was typed, and stands in the field after."""

    means = forms.ChoiceField(label="Measured with", choices=ForkMeasurement.Means.choices)
    made_up = forms.BooleanField(required=False, label="These readings are made up, to try it out")
    lines = forms.CharField(
        label="Readings, one a line",
        required=False,
        max_length=MOST_SIGNS,
        widget=forms.Textarea(attrs={"rows": 14, "autocomplete": "off", "spellcheck": "false"}),
        help_text="Without a unit: psi, °C, mm, N. Scales in kg: write 12.2 kg. Direction: in or out.",
    )
    file = forms.FileField(label="or a file of the same layout", required=False, help_text="CSV, UTF-8.")

    def __init__(self, data: Any = None, files: Any = None, **kwargs: Any) -> None:
        super().__init__(data, files, initial={"lines": FIRST_LINE, **kwargs.pop("initial", {})}, **kwargs)

    def clean_file(self) -> str:
        """The text of the file; empty where none was chosen."""
        chosen: UploadedFile[Any] | None = self.cleaned_data["file"]
        if chosen is None:
            return ""
        if (chosen.size or 0) > MOST_BYTES:
            raise forms.ValidationError(
                f"The file is larger than {MOST_BYTES // 1024} KB: that is no list of readings."
            )
        try:
            text: str = chosen.read().decode("utf-8-sig")
        except UnicodeDecodeError:
            raise forms.ValidationError("The file is not UTF-8 text. Save it as “CSV UTF-8” and try again.") from None
        if "\x00" in text:
            raise forms.ValidationError("This is not a text file. Save it as “CSV UTF-8” and try again.")
        return text

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if text := cleaned.get("file"):
            cleaned["lines"] = text
            self.data = {
                **dict(self.data.items()),
                "lines": text,
            }  # to be put right where it stands, where it is refused
        return cleaned

    def refuse(self, refused: LinesRefused) -> None:
        """Each line's reason beside the field."""
        for sentence in refused.sentences:
            self.add_error("lines", sentence)
