"""Attaching a page of a manual to a model, taking it off again, and finding the page that a value is from."""

from __future__ import annotations

import logging
from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from specs.models import SpecValue, SuspensionModel
from workshop.manuals.files import ManualFile, ManualRefused, store_manual
from workshop.manuals.models import ManualPage
from workshop.staff.models import Shop, User
from workshop.web.storage import StoreAway

_log = logging.getLogger(__name__)
MOST_FILES = 40
ATTACHED_ALREADY = "This very file is attached to the model already."


def attach_page(
    *, shop: Shop, model: SuspensionModel, file: ManualFile, document: str, revision: str, page: str, by: User
) -> ManualPage:
    """Keep a page of a manual beside a model's values.

    Raises:
        ValidationError: on `file`: attached already, or more than MOST_FILES; on `document`: not named.
    """
    row = ManualPage(
        shop=shop, model=model, document=document.strip(), revision=revision.strip(), page=page.strip(),
        kind=file.kind, pages=file.pages, by=by, at=timezone.now(),
    )  # fmt: skip
    if not row.document:
        raise ValidationError({"document": "Name the manual that the page is of."})
    row.full_clean(exclude=["file"], validate_constraints=False)
    if pages_kept(shop, model).count() >= MOST_FILES:
        raise ManualRefused({"file": f"{MOST_FILES} files are attached to this model. Remove one first."})
    row.file.name = store_manual(file)
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:
        kept = pages_kept(shop, model).filter(file=row.file.name).first()
        if kept is not None and kept.source == row.source:  # pressed twice
            return kept
        raise ManualRefused({"file": ATTACHED_ALREADY}) from None
    return row


@transaction.atomic
def take_page_off(*, page: ManualPage) -> None:
    """Take a page off its model, and its bytes off the disk once no page in any shop has them."""
    name = page.file.name or ""
    page.delete()
    if not ManualPage.objects.filter(file=name).exists():
        transaction.on_commit(lambda: _delete_unless_kept(name))


def pages_kept(shop: Shop, model: SuspensionModel) -> QuerySet[ManualPage]:
    """The pages that this shop attached to a model, in the order of the manuals; one query once it is looked at."""
    return ManualPage.objects.filter(shop=shop, model=model)


def page_of_value(value: SpecValue, pages: Iterable[ManualPage]) -> ManualPage | None:
    """The attached page that a value's source names; that of the whole document where none names its page."""
    of_document = [
        page
        for page in pages
        if (_plain(page.document), _plain(page.revision))
        == (_plain(value.source_document), _plain(value.source_revision))
    ]
    exact = [page for page in of_document if value.source_page and _plain(page.page) == _plain(value.source_page)]
    return next(iter(exact), next((page for page in of_document if not page.page or page.pages > 1), None))


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def _delete_unless_kept(name: str) -> None:
    """Asked again once the row is gone for good: somebody may have attached the same bytes in between."""
    if not ManualPage.objects.filter(file=name).exists():
        try:
            default_storage.delete(name)
        except StoreAway as away:  # the page is off its model, and nobody has to do it again
            _log.warning("The file of a page that was taken off is still kept: %s. %s", name, away.words)
