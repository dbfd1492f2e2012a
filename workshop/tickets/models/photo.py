"""Photos on a ticket, decoded and re-encoded before they are kept."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy

from diagnosis.models import Step
from workshop.tickets.models.removable import Removable, StillThere
from workshop.tickets.models.ticket import Ticket


class Photo(Removable):
    """A photo, stored under the digest of its re-encoded bytes, and the step it was taken at.

    `Photo.objects` and `ticket.photos` leave out what was removed; `Photo.with_removed` has all.
    """

    class Moment(models.TextChoices):
        BEFORE = "before", gettext_lazy("Before the work")
        AFTER = "after", gettext_lazy("After the work")

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="photos")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    client_id = models.UUIDField(unique=True, default=uuid.uuid4)
    file = models.FileField(max_length=120)
    thumbnail = models.FileField(max_length=120)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    digest = models.CharField(max_length=64)
    caption = models.CharField(max_length=120, blank=True)
    for_customer = models.BooleanField(default=False)
    moment = models.CharField(max_length=6, choices=Moment.choices, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    objects = StillThere["Photo"]()
    with_removed = models.Manager["Photo"]()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(width__gt=0, height__gt=0), name="photo_has_a_size"),
            models.CheckConstraint(
                condition=models.Q(removed_by__isnull=True) | models.Q(removed_at__isnull=False),
                name="removed_photo_says_when",
            ),
        ]

    def __str__(self) -> str:
        return self.caption or f"Photo {self.pk}"
