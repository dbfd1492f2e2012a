"""Which edition of the checklists that ship with the app is in the database, whichever machine put it there."""

from __future__ import annotations

from django.db import models


class ShippedEdition(models.Model):
    """One row: the newest edition that any machine of this database loaded."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    edition = models.PositiveIntegerField()
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Edition {self.edition}"
