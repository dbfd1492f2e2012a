"""When what runs by a timer ran, on which machine, and how it ended: one list for all machines of a database."""

from __future__ import annotations

from django.db import models


class ScheduledRun(models.Model):
    """A run of what a timer starts. One that has no end is under way, or its machine stopped on the way."""

    what = models.CharField(max_length=20, help_text="As `Scheduled` in workshop/running/scheduled.py names it.")
    machine = models.CharField(max_length=120)
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    went_well = models.BooleanField(default=False)
    outcome = models.TextField(blank=True, help_text="In words, for whoever runs the machine.")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.what} on {self.machine}"
