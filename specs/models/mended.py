"""What an upgrade set right in old rows, so that the database could hold a rule from then on."""

from __future__ import annotations

from django.db import models


class MendedValue(models.Model):
    """One field of one old row that broke a rule of the database: what it was, and what it became. Nothing is lost.

    It belongs to the database, of whatever app or shop the row is. `was` and `became` are JSON.
    """

    rule = models.CharField(max_length=60, help_text="Name of the constraint.")
    table = models.CharField(max_length=60, help_text="App and model of the row.")
    row = models.BigIntegerField(help_text="Primary key of the row.")
    field = models.CharField(max_length=60)
    was = models.TextField()
    became = models.TextField()
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.table} {self.row}, {self.field}: {self.was} became {self.became}"
