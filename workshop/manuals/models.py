"""A page of a maker's manual that a shop keeps beside a model's values."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from specs.models import SuspensionModel
from workshop.staff.models import Shop


class ManualPage(models.Model):
    """A picture or a PDF of some pages, with what it is of, as the source of a value says it.

    Models and values are read by every shop of a database; the pages are the shop's own copy and stay with it.
    """

    class Kind(models.TextChoices):
        PDF = "pdf", "PDF"
        PICTURE = "jpg", "Picture"

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="manual_pages")
    model = models.ForeignKey(SuspensionModel, on_delete=models.PROTECT, related_name="+")
    document = models.CharField(max_length=160)
    revision = models.CharField(max_length=40, blank=True)
    page = models.CharField(max_length=40, blank=True)
    file = models.FileField(max_length=160)
    kind = models.CharField(max_length=3, choices=Kind.choices)
    pages = models.PositiveSmallIntegerField(default=1)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["document", "revision", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "model", "file"],
                name="manual_page_attached_once",
                violation_error_message="This very file is attached to the model already.",
            ),
            models.CheckConstraint(
                condition=~Q(document="") & ~Q(file=""),
                name="manual_page_says_what_it_is_of",
                violation_error_message="Name the manual that the page is of.",
            ),
            models.CheckConstraint(condition=Q(pages__gte=1), name="manual_page_has_a_page"),
        ]

    def __str__(self) -> str:
        return self.source

    @property
    def source(self) -> str:
        """What it is of, written as the source of a value is."""
        return ", ".join(
            part for part in (self.document, self.revision, f"p. {self.page}" if self.page else "") if part
        )

    @property
    def is_picture(self) -> bool:
        return self.kind == self.Kind.PICTURE
