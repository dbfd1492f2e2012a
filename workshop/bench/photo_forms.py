"""What a step's buttons send beside its own form."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from workshop.tickets.photos import DecodedPhoto, decode_photo
from workshop.web.uploads import file_name


class _PhotoField(forms.FileField):
    """A photo, decoded and written anew; see workshop.tickets.photos."""

    def clean(self, data: Any, initial: Any = None) -> DecodedPhoto:
        file: UploadedFile[Any] = super().clean(data, initial)
        return decode_photo(file, name=file_name(file))


class PhotoForm(forms.Form):
    photo = _PhotoField(error_messages={"required": "Take or choose a photo first."})
    client_id = forms.UUIDField(required=False)

    def clean_client_id(self) -> uuid.UUID:
        return self.cleaned_data["client_id"] or uuid.uuid4()
