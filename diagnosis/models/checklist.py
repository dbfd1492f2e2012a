"""Complaints, causes, and checklists with their steps.

A checklist is never edited: a change makes its next version, so that a run keeps the wording it was ticked with.
"""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models


class ComplaintQuerySet(models.QuerySet["Complaint"]):
    def offered(self) -> ComplaintQuerySet:
        """Those a ticket may be booked in for; retired ones stay on the tickets that have them."""
        return self.filter(retired_at=None)


class Complaint(models.Model):
    """What a customer comes in with, in the trade's words and in theirs."""

    key = models.SlugField(unique=True, max_length=60)
    title = models.CharField(max_length=80)
    suits = models.JSONField(default=list, help_text="fork, shock or both.")
    symptoms = models.JSONField(default=list, help_text="Words a customer uses for it.")
    is_routine = models.BooleanField(default=False)
    position = models.PositiveSmallIntegerField(default=0)
    retired_at = models.DateTimeField(null=True, blank=True)
    retired_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = ComplaintQuerySet.as_manager()

    class Meta:
        ordering = ["position", "title"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(retired_by__isnull=True) | models.Q(retired_at__isnull=False),
                name="retired_complaint_says_when",
            )
        ]

    def __str__(self) -> str:
        return self.title


class Cause(models.Model):
    """What can be behind a complaint, and how to say so to the customer."""

    key = models.SlugField(unique=True, max_length=60)
    title = models.CharField(max_length=120)
    for_customer = models.TextField()
    ends_life = models.JSONField(default=list, blank=True, help_text="Parts that are worn out where this is the cause.")

    class Meta:
        ordering = ["title"]

    def __str__(self) -> str:
        return self.title


class Checklist(models.Model):
    """One version of the steps for a complaint, in handbook order: cheapest first."""

    class Origin(models.TextChoices):
        SHIPPED = "shipped", "As shipped"
        SHOP = "shop", "The shop’s own"

    complaint = models.ForeignKey(Complaint, on_delete=models.PROTECT, related_name="checklists")
    key = models.SlugField(max_length=60)
    number = models.PositiveIntegerField(default=1, help_text="Version number, from 1.")
    title = models.CharField(max_length=120)
    summary = models.TextField(blank=True)
    suits = models.JSONField(default=list, help_text="fork, shock or both.")
    priors = models.JSONField(default=dict, help_text="Prior weight of each cause, by its key.")
    chances_source = models.CharField(max_length=160)
    is_current = models.BooleanField(default=True)
    origin = models.CharField(max_length=10, choices=Origin.choices, default=Origin.SHIPPED)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    wording = models.PositiveIntegerField(
        default=1, help_text="One more each time a cause it names is worded anew, for those words have no version."
    )
    written_by = models.ManyToManyField(
        settings.AUTH_USER_MODEL, blank=True, related_name="+", help_text="Who changed it, but not who put it in use."
    )

    class Meta:
        ordering = ["complaint", "key", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["key", "number"], name="checklist_versions_are_numbered"),
            models.UniqueConstraint(
                fields=["key"], condition=models.Q(is_current=True), name="one_current_version_of_a_checklist"
            ),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="checklist_numbered_from_one"),
        ]

    def __str__(self) -> str:
        return self.title


class Step(models.Model):
    """One step of a checklist version. The JSON fields have the shapes that diagnosis.layout validates."""

    class Kind(models.TextChoices):
        CHECK = "check", "Check"
        WORK = "work", "Work"
        PROOF = "proof", "Proof"

    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="steps")
    key = models.SlugField(max_length=60)
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=10, choices=Kind.choices)
    title = models.CharField(max_length=80)
    do = models.JSONField(default=list)
    look_for = models.JSONField(default=list, blank=True)
    counts_as_found = models.TextField(blank=True)
    minutes = models.FloatField(validators=[MinValueValidator(0)])
    skill = models.CharField(max_length=30, default="mechanic")
    tools = models.JSONField(default=list, blank=True)
    consumables = models.JSONField(default=list, blank=True)
    cautions = models.JSONField(default=list, blank=True, help_text="Each with key, title and text.")
    needs = models.JSONField(default=list, blank=True)
    safety = models.BooleanField(default=False)
    only_if = models.JSONField(default=dict, blank=True)
    shows = models.JSONField(default=list, blank=True)
    readings = models.JSONField(default=list, blank=True)
    timer = models.JSONField(null=True, blank=True)
    bolts = models.JSONField(default=list, blank=True)
    ends_search = models.JSONField(default=dict, blank=True)
    requires = models.JSONField(
        default=dict, blank=True, help_text="Conditions of the unit that it can be done in, by part."
    )
    opens = models.JSONField(default=list, blank=True, help_text="Parts that are opened on the way.")
    proves = models.JSONField(default=list, blank=True, help_text="Parts that a proof says are good.")
    closed_by = models.SlugField(
        max_length=60,
        blank=True,
        default="",
        db_index=False,
        help_text="The step that puts together again what this one took apart.",
    )
    services = models.JSONField(default=list, blank=True, help_text="Services that it is part of.")
    renews = models.JSONField(default=list, blank=True, help_text="Parts that are new after it.")
    frees_port = models.CharField(
        max_length=20, blank=True, default="", help_text="How it tries to free the port of an air spring."
    )
    spring_answer = models.BooleanField(default=False, help_text="The whole answer of the air spring stands here.")
    on_finding = models.BooleanField(default=False, help_text="Suggested only where a finding names it as its repair.")
    moves = models.CharField(max_length=8, blank=True, help_text="Whether the bike is pushed or ridden.")
    answers = models.JSONField(default=dict, blank=True)
    for_customer = models.TextField(blank=True)
    replaces = models.JSONField(
        default=list, blank=True, help_text="Safety and proof steps of earlier versions whose place it takes."
    )

    class Meta:
        ordering = ["checklist", "position"]
        constraints = [
            models.UniqueConstraint(fields=["checklist", "key"], name="step_key_once_in_a_checklist"),
            models.UniqueConstraint(fields=["checklist", "position"], name="step_position_once_in_a_checklist"),
            models.CheckConstraint(condition=models.Q(minutes__gte=0), name="step_minutes_not_negative"),
        ]

    def __str__(self) -> str:
        return self.title
