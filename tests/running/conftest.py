"""A small shop with a photo and a document, and folders of its own."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from django.core.files.base import ContentFile
from django.utils import timezone

if TYPE_CHECKING:
    from workshop.models import Ticket

KEY = b"the key of this shop, made on its first start"


@pytest.fixture
def data_dir(settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The shop's folder, with a secret key in it, and one for its backups."""
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "secret_key").write_bytes(KEY)
    (folder / "secret_key").chmod(0o600)
    monkeypatch.delenv("SECRET_KEY")
    settings.DATA_DIR, settings.MEDIA_ROOT, settings.BACKUP_DIR = folder, folder / "files", tmp_path / "backups"
    return folder


@pytest.fixture
def shop(data_dir: Path, transactional_db: None) -> Ticket:
    """A ticket with a photo and a document; its words have accents, quotes and a line break."""
    from tests.factories import TicketFactory, UserFactory
    from workshop.models import Document, Photo

    ticket: Ticket = TicketFactory(complaint_words='Sinks “by itself”, says Þóra\n20 % sag — "soft"')
    owner = UserFactory(shop=ticket.shop, owner=True)
    picture, pdf = b"\xff\xd8 a picture", b"%PDF-1.7 a report"
    photo = Photo(ticket=ticket, width=4, height=3, digest=hashlib.sha256(picture).hexdigest(), by=owner)
    photo.at = timezone.now()
    photo.file.save(f"photos/ab/{photo.digest}.jpg", ContentFile(picture), save=False)
    photo.thumbnail.save(f"photos/ab/{photo.digest}-small.jpg", ContentFile(picture[:8]), save=False)
    photo.save()
    document = Document(ticket=ticket, kind=Document.Kind.LABEL, revision=1, paper="A4", issued_by=owner)
    document.data = {"z": 1.0, "a": {"largest": 1e16, "small": 1e-7, "none": None}, "words": ["ü", "\u2028"]}
    document.digest = hashlib.sha256(pdf).hexdigest()
    document.issued_at = timezone.now()
    document.pdf.save(f"documents/{ticket.shop_id}/{ticket.number}/label-1.pdf", ContentFile(pdf), save=False)
    document.save()
    return ticket
