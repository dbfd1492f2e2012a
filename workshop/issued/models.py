"""Issued documents: frozen as they were printed."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from workshop.tickets.models import Ticket


class Document(models.Model):
    """One issue of a document: the data it printed, the PDF, and the digest of that PDF.

    Rows are added, never edited. A later change of a spec value does not reach an issued document.
    """

    class Kind(models.TextChoices):
        WORK_ORDER = "work_order", "Work order"
        LABEL = "label", "Label"
        CUSTOMER_REPORT = "customer_report", "Service report"
        ESTIMATE = "estimate", "Estimate"
        SLIP = "slip", "Slip to sign"
        RECEIPT = "receipt", "Receipt"
        CREDIT_NOTE = "credit_note", "Credit note"

    ticket = models.ForeignKey(Ticket, on_delete=models.PROTECT, related_name="documents")
    kind = models.CharField(max_length=20, choices=Kind.choices)
    revision = models.PositiveSmallIntegerField()
    paper = models.CharField(max_length=10)
    data = models.JSONField()
    data_digest = models.CharField(max_length=64, help_text="SHA-256 of the data; its start is printed on the page.")
    pdf = models.FileField(max_length=160)
    digest = models.CharField(max_length=64, help_text="SHA-256 of the PDF.")
    language = models.CharField(
        max_length=20,
        blank=True,
        default="",
        db_default="",
        help_text="In which it was issued; empty: before any was chosen.",
    )
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    issued_at = models.DateTimeField()

    class Meta:
        ordering = ["ticket", "kind", "-revision"]
        constraints = [
            models.UniqueConstraint(fields=["ticket", "kind", "revision"], name="document_revisions_are_numbered"),
            models.CheckConstraint(condition=models.Q(revision__gte=1), name="document_revision_from_one"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.ticket.number}, revision {self.revision}"
