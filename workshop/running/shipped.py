"""The checklists that ship with this release into the database, unless a newer release put its own there.

Of several machines an older one may start again after a newer one has served, with a release in between that changed
checklists and no table: its texts are another edition, and must not come back into use.
"""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from diagnosis.edition import EDITION
from diagnosis.loading import Loaded, load_shipped
from workshop.running.shipped_models import ShippedEdition

_ONE = 1


@transaction.atomic
def load_what_ships(edition: int = EDITION) -> list[Loaded] | None:
    """As `load_shipped`; None, and nothing loaded, where the database has a newer edition. Inside `in_one_piece`.

    Raises diagnosis.layout.LayoutError, with nothing loaded, if a file does not fit the layout.
    """
    there = ShippedEdition.objects.filter(pk=_ONE).values_list("edition", flat=True).first()
    if there is not None and there > edition:
        return None
    loaded = load_shipped()
    if there != edition:
        ShippedEdition.objects.update_or_create(pk=_ONE, defaults={"edition": edition, "at": timezone.now()})
    return loaded
