"""Reminders: their text, what the owner decided, and the box of messages on their way out."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from workshop.customers.models import Customer
from workshop.intervals.models import LEVEL_CHOICES
from workshop.staff.models import Shop
from workshop.stock.purchase_models import PurchaseOrder
from workshop.suspension.models import SuspensionUnit


class ReminderText(models.Model):
    """The shop's wording. Fields in braces are filled in; an unknown one is refused before it is saved."""

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="reminder_text")
    subject = models.CharField(max_length=150)
    body = models.TextField()
    version = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return f"Reminder text, {self.shop}"


class ReadyText(models.Model):
    """How the shop tells that something is ready, by email and by text message, and how long nobody may go unreached.

    Fields in braces are filled in; an unknown one is refused before it is saved.
    """

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="ready_text")
    subject = models.CharField(max_length=150)
    body = models.TextField()
    text = models.TextField(help_text="The text message.")
    unreached_days = models.PositiveSmallIntegerField(default=3)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(unreached_days__gte=1, unreached_days__lte=60),
                name="unreached_from_one_to_sixty_days",
                violation_error_message="Enter days from 1 to 60.",
            )
        ]

    def __str__(self) -> str:
        return f"Ready text, {self.shop}"


class Message(models.Model):
    """One reminder, frozen as it was approved, or one word that something is ready or one order to a
    supplier, frozen as it was pressed.

    `message_id` is its name for ever, at the provider too.
    """

    class Kind(models.TextChoices):
        REMINDER = "reminder", "Reminder"
        READY = "ready", "It is ready"
        ORDER = "order", "An order"

    class Channel(models.TextChoices):
        EMAIL = "email", "Email"
        LETTER = "letter", "Letter"

    class State(models.TextChoices):
        QUEUED = "queued", "Queued"
        CLAIMED = "claimed", "Being sent"
        HANDING_OVER = "handing_over", "Being handed over"
        SENT = "sent", "Sent"
        FAILED = "failed", "Returned"
        UNCERTAIN = "uncertain", "Cut off while sending"
        CALLED_OFF = "called_off", "Cancelled"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="reminder_messages")
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="reminder_messages"
    )
    unit = models.ForeignKey(
        SuspensionUnit, on_delete=models.PROTECT, null=True, blank=True, related_name="reminder_messages"
    )
    order = models.ForeignKey(PurchaseOrder, on_delete=models.PROTECT, null=True, blank=True, related_name="messages")
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.REMINDER)
    channel = models.CharField(max_length=10, choices=Channel.choices)
    to_address = models.TextField(blank=True, help_text="Email address, or the lines of the postal address.")
    language = models.CharField(
        max_length=20,
        blank=True,
        default="",
        db_default="",
        help_text="In which it was written; empty: the shop’s.",
    )
    subject = models.CharField(max_length=200)
    body = models.TextField(help_text="As approved, without the line that says how to stop reminders.")
    stop_url = models.URLField(max_length=400, blank=True)
    due_on = models.DateField(null=True, blank=True, help_text="Of a reminder, the day its service is due.")
    calendar = models.TextField(blank=True, help_text="The iCalendar file that goes with it.")
    attached = models.TextField(blank=True, help_text="The lines of the purchase order that goes with it, as CSV.")
    message_id = models.CharField(max_length=120, unique=True)
    state = models.CharField(max_length=12, choices=State.choices, default=State.QUEUED)
    claim = models.UUIDField(null=True, blank=True)
    claimed_at = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    not_before = models.DateTimeField(null=True, blank=True, help_text="After a passing failure, when to try again.")
    problem = models.CharField(max_length=300, blank=True)
    queued_at = models.DateTimeField()
    queued_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    sent_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["shop", "state"], name="message_outbox")]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(state="sent", sent_at__isnull=False) | ~models.Q(state="sent"),
                name="sent_message_says_when",
            ),
            models.CheckConstraint(
                condition=~models.Q(subject__contains="\n") & ~models.Q(subject__contains="\r"),
                name="subject_is_one_line",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    state__in=[
                        *("queued", "claimed", "handing_over", "sent", "failed", "uncertain", "called_off"),
                    ]
                ),
                name="message_state_is_known",
            ),
            models.CheckConstraint(
                condition=models.Q(channel__in=["email", "letter"]), name="message_channel_is_known"
            ),
            models.CheckConstraint(
                condition=models.Q(kind="order", order__isnull=False, customer__isnull=True, unit__isnull=True)
                | (~models.Q(kind="order") & models.Q(order__isnull=True, customer__isnull=False, unit__isnull=False)),
                name="message_is_to_a_customer_or_of_an_order",
            ),
            models.CheckConstraint(
                condition=models.Q(kind="reminder", due_on__isnull=False)
                | models.Q(kind__in=["ready", "order"], channel="email", due_on__isnull=True),
                name="message_kind_is_known_and_a_reminder_is_due",
            ),
        ]

    def __str__(self) -> str:
        return self.subject


class RemindedService(models.Model):
    """That a due service is told by a message. A service is due once for each time it was done, so told once."""

    message = models.ForeignKey(Message, on_delete=models.CASCADE, related_name="services")
    unit = models.ForeignKey(SuspensionUnit, on_delete=models.CASCADE, related_name="reminded_services")
    level = models.CharField(max_length=10, choices=LEVEL_CHOICES)
    counted_from = models.DateField(help_text="The day the interval began.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "level", "counted_from"], name="never_twice_for_a_due_service")
        ]

    def __str__(self) -> str:
        return f"{self.get_level_display()} counted from {self.counted_from}"


class Decision(models.Model):
    """The owner's word on a due service: not now (until a day), or not at all."""

    unit = models.ForeignKey(SuspensionUnit, on_delete=models.CASCADE, related_name="reminder_decisions")
    level = models.CharField(max_length=10, choices=LEVEL_CHOICES)
    counted_from = models.DateField()
    snoozed_until = models.DateField(null=True, blank=True, help_text="Empty: skipped for good.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "level", "counted_from"], name="one_decision_for_a_due_service")
        ]

    def __str__(self) -> str:
        return f"{self.unit}, {self.level}: {self.snoozed_until or 'skipped'}"
