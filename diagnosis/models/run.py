"""Runs of a checklist, and everything entered on the way. Rows are added, never edited."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from diagnosis.layout_plans import BY_THE_WAY, CAUSE, DANGER, FINDINGS
from diagnosis.models.checklist import Cause, Checklist, Step


class Run(models.Model):
    """Working through one checklist once, on a unit with these facts. It knows nothing of tickets."""

    checklist = models.ForeignKey(Checklist, on_delete=models.PROTECT, related_name="runs")
    facts = models.JSONField(default=dict, help_text="The unit’s facts when the run began.")
    job = models.UUIDField(
        default=uuid.uuid4, editable=False, db_index=True, help_text="Runs worked side by side on one unit share it."
    )
    started_at = models.DateTimeField(auto_now_add=True)
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(
        null=True, blank=True, help_text="When nothing was left to do or prove in it; empty as long as there is."
    )
    in_suggested_order = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=1)
    said = models.PositiveIntegerField(default=0, help_text="How often something was told of the job’s unit.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["job", "checklist"], name="checklist_once_in_a_job"),
            models.CheckConstraint(condition=models.Q(version__gte=1), name="run_version_from_one"),
        ]

    def __str__(self) -> str:
        return f"{self.checklist} from {self.started_at:%Y-%m-%d %H:%M}"


class FindingKind(models.TextChoices):
    """What was found can be; only the cause ends the search for the complaint."""

    CAUSE = CAUSE, FINDINGS[CAUSE]
    BY_THE_WAY = BY_THE_WAY, FINDINGS[BY_THE_WAY]
    DANGER = DANGER, FINDINGS[DANGER]


class Tick(models.Model):
    """That a step ended with an outcome, or that its outcome was taken back.

    The latest tick of a step counts. `client_id` is made on the tablet, so that a repeat is harmless.
    """

    class Outcome(models.TextChoices):
        RULED_OUT = "ruled_out", "Ruled out"
        FOUND = "found", "Found"
        CANT_TELL = "cant_tell", "Can’t tell"
        DONE = "done", "Done"
        LEFT_OUT = "left_out", "Left out"
        STILL_PULLING = "still_pulling", "Still pulling: stop"
        PROVED = "proved", "Proved"
        NOT_PROVED = "not_proved", "Not proved"
        LEFT_EARLY = "left_early", "Wait left early"
        TAKEN_BACK = "taken_back", "Taken back"

    run = models.ForeignKey(Run, on_delete=models.CASCADE, related_name="ticks")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="ticks")
    client_id = models.UUIDField(unique=True, default=uuid.uuid4)
    outcome = models.CharField(max_length=16, choices=Outcome.choices)
    cause = models.ForeignKey(
        Cause, on_delete=models.PROTECT, null=True, blank=True, related_name="+", help_text="What was found, if named."
    )
    finding = models.CharField(
        max_length=12, choices=FindingKind.choices, blank=True, help_text="What kind of finding it is, if it is one."
    )
    note = models.TextField(blank=True)
    counted_from = models.ForeignKey(
        "self",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="counted_in",
        help_text="The tick in another run of the same job that this one follows from.",
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    ticked_at = models.DateTimeField(help_text="When it was ticked, by the tablet’s clock if it was cut off.")
    received_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(finding="") | models.Q(finding__in=list(FINDINGS), outcome="found"),
                name="only_what_was_found_is_a_finding",
            ),
            models.CheckConstraint(
                condition=models.Q(cause__isnull=True) | ~models.Q(finding=BY_THE_WAY),
                name="by_the_way_is_not_the_cause",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    outcome__in=[
                        *("ruled_out", "found", "cant_tell", "done", "left_out", "still_pulling"),
                        *("proved", "not_proved", "left_early", "taken_back"),
                    ]
                ),
                name="tick_outcome_is_known",
            ),
            models.CheckConstraint(
                condition=models.Q(cause__isnull=True) | models.Q(outcome="found"), name="only_a_finding_names_a_cause"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.step}: {self.get_outcome_display()}"


class Reading(models.Model):
    """A value read at a step, in SI and as typed; one that is a word has no magnitude. The latest of its key counts."""

    run = models.ForeignKey(Run, on_delete=models.CASCADE, related_name="readings")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="readings_taken")
    key = models.SlugField(max_length=60)
    magnitude_si = models.FloatField(null=True, blank=True)
    typed = models.CharField(max_length=60)
    held_against = models.JSONField(
        default=dict, blank=True, help_text="What it was to be when it was read, SI: label, low, high, value, whole."
    )
    outside = models.BooleanField(default=False)
    reason = models.CharField(max_length=400, blank=True, help_text="Why it is outside all the same.")
    client_id = models.UUIDField(default=uuid.uuid4)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    read_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["client_id", "key"], name="reading_sent_once")]

    def __str__(self) -> str:
        return f"{self.key}: {self.typed}"


class StepTimer(models.Model):
    """A timer running at a step, such as foam rings soaking. Counted from the start, so a reload loses nothing."""

    run = models.ForeignKey(Run, on_delete=models.CASCADE, related_name="timers")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="timers")
    client_id = models.UUIDField(unique=True, default=uuid.uuid4)
    seconds = models.PositiveIntegerField()
    started_at = models.DateTimeField()
    stopped_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["run", "step"], condition=models.Q(stopped_at__isnull=True), name="one_running_timer_of_a_step"
            ),
            models.CheckConstraint(condition=models.Q(seconds__gt=0), name="timer_runs_some_time"),
        ]

    def __str__(self) -> str:
        return f"{self.seconds // 60} minutes at {self.step}"


class MinutesCorrection(models.Model):
    """That a step took so many minutes, whatever the times of its ticks say. The latest of a step counts."""

    MOST_MINUTES = 24 * 60

    run = models.ForeignKey(Run, on_delete=models.CASCADE, related_name="minutes_corrections")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="+")
    minutes = models.FloatField(
        validators=[MinValueValidator(0, "Minutes start at 0."), MaxValueValidator(MOST_MINUTES, "A day at most.")]
    )
    client_id = models.UUIDField(unique=True, default=uuid.uuid4)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(minutes__gte=0, minutes__lte=24 * 60), name="corrected_minutes_within_a_day"
            )
        ]

    def __str__(self) -> str:
        return f"{self.minutes:g} minutes at {self.step}"
