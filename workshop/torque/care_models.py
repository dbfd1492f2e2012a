"""What is kept of a torque tool's care: its calibrations with their certificates, to whom it was lent, its checks."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from workshop.torque.models import TorqueTool


class Calibration(models.Model):
    """A calibration after ISO 6789: when, by whom, how the tool was found and left, until when it holds.

    Rows are added, never edited. A share is the greatest deviation in the certificate, 0.04 for 4 %; None where
    nobody typed it. `certificate` is a PDF as it was given, or a picture written anew.
    """

    class Result(models.TextChoices):
        WITHIN = "within", "within its class"
        OUTSIDE = "outside", "outside its class"
        NOT_STATED = "not_stated", "not stated"

    class CertificateKind(models.TextChoices):
        PDF = "pdf", "PDF"
        PICTURE = "jpg", "Picture"

    tool = models.ForeignKey(TorqueTool, on_delete=models.PROTECT, related_name="calibrations")
    on = models.DateField()
    due = models.DateField()
    by_whom = models.CharField(max_length=120)
    as_found = models.CharField(max_length=10, choices=Result.choices, default=Result.NOT_STATED)
    as_left = models.CharField(max_length=10, choices=Result.choices)
    found_share = models.FloatField(null=True, blank=True)
    left_share = models.FloatField(null=True, blank=True)
    certificate = models.FileField(max_length=160, blank=True)
    certificate_kind = models.CharField(max_length=3, choices=CertificateKind.choices, blank=True)
    entered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(due__gte=F("on")),
                name="calibration_due_after_it_was_made",
                violation_error_message="A calibration cannot be due before it was made.",
            ),
            models.CheckConstraint(
                condition=(Q(found_share__isnull=True) | Q(found_share__gte=0))
                & (Q(left_share__isnull=True) | Q(left_share__gte=0)),
                name="calibration_deviation_not_negative",
                violation_error_message="Enter a deviation without its sign.",
            ),
            models.CheckConstraint(
                condition=Q(certificate="", certificate_kind="") | (~Q(certificate="") & ~Q(certificate_kind="")),
                name="certificate_says_its_kind",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tool}, calibrated {self.on:%-d %b %Y}"

    @property
    def found_percent(self) -> float | None:
        return None if self.found_share is None else 100 * self.found_share

    @property
    def left_percent(self) -> float | None:
        return None if self.left_share is None else 100 * self.left_share


class ToolLoan(models.Model):
    """That a tool was lent, and that it came back."""

    tool = models.ForeignKey(TorqueTool, on_delete=models.PROTECT, related_name="loans")
    to = models.CharField(max_length=80)
    lent_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    lent_at = models.DateTimeField()
    back_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    back_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["tool"],
                condition=Q(back_at__isnull=True),
                name="torque_tool_lent_once_at_a_time",
                violation_error_message="The tool is lent already.",
            ),
            models.CheckConstraint(
                condition=Q(back_at__isnull=True, back_by__isnull=True)
                | Q(back_at__isnull=False, back_by__isnull=False),
                name="torque_tool_back_says_who",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tool}, lent to {self.to}"


class ToolCheck(models.Model):
    """A check of a tool against a reference, in N·m; `allowed_share` is what its class left it then. Added only."""

    tool = models.ForeignKey(TorqueTool, on_delete=models.PROTECT, related_name="checks")
    reference_nm = models.FloatField()
    read_nm = models.FloatField()
    allowed_share = models.FloatField()
    within = models.BooleanField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reference_nm__gt=0, read_nm__gt=0, allowed_share__gt=0),
                name="torque_tool_check_above_zero",
                violation_error_message="Enter torques above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tool}, checked {self.at:%-d %b %Y}"

    @property
    def deviation_percent(self) -> float:
        """By how much the tool was off, of what the reference said; ISO 6789 reckons from the reference (memory)."""
        return 100 * (self.read_nm - self.reference_nm) / self.reference_nm
