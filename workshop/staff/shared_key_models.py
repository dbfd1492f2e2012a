"""Which secret key the machines of one database share, told by its digest alone."""

from __future__ import annotations

from django.db import models


class SharedKey(models.Model):
    """One row: a digest that tells the key from another, and from which nobody has it."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    salt = models.CharField(max_length=32)
    digest = models.CharField(max_length=64, help_text="SHA-256 of salt and key.")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return "The key that the machines share"
