"""Customers and their bikes."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy

from specs.models.parts import above_zero
from workshop.staff.models import Shop
from workshop.web.folded_field import FoldedTextField


class NotMerged(models.Manager["Customer"]):
    """Only records that stand for themselves: whoever asks without thinking of it meets nobody twice."""

    def get_queryset(self) -> models.QuerySet[Customer]:
        return super().get_queryset().filter(merged_into=None)


class Customer(models.Model):
    """Who brings the fork, how to reach them, and whether they want to be reminded.

    A record that was merged into another keeps what was written of the person, and nothing points at it any more but
    old addresses and links. `Customer.objects` leaves such out; `Customer.with_merged` has all.
    """

    class Contact(models.TextChoices):
        PHONE = "phone", gettext_lazy("Phone")
        MESSAGE = "message", gettext_lazy("Text message")
        EMAIL = "email", gettext_lazy("Email")
        LETTER = "letter", gettext_lazy("Letter")

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="customers")
    name = models.CharField(max_length=120)
    contact_person = models.CharField(max_length=120, blank=True, help_text="Of a company, whom to ask for.")
    phone = models.CharField(max_length=40, blank=True)
    other_phones = models.TextField(blank=True, help_text="Further numbers, one a line, each with what it is.")
    email = models.EmailField(blank=True)
    address = models.TextField(blank=True)
    preferred_contact = models.CharField(max_length=10, choices=Contact.choices, default=Contact.PHONE)
    language = models.CharField(max_length=40, blank=True, help_text="What they are best spoken to in.")
    papers_language = models.CharField(
        max_length=20,
        blank=True,
        default="",
        db_default="",
        help_text="Of their papers, mails and page; empty: the shop’s.",
    )
    agreed_to_reminders = models.BooleanField(default=False)
    agreed_to_reminders_at = models.DateTimeField(null=True, blank=True)
    rider_mass_kg = models.FloatField(null=True, blank=True, validators=[above_zero])
    notes = models.TextField(blank=True)
    search_text = FoldedTextField(editable=False)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    merged_into = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, editable=False, related_name="+"
    )
    merged_at = models.DateTimeField(null=True, blank=True, editable=False)
    merged_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, editable=False, related_name="+"
    )
    merged_because = models.CharField(max_length=200, blank=True, editable=False)

    objects = NotMerged()
    with_merged = models.Manager["Customer"]()

    class Meta:
        ordering = ["name", "pk"]
        indexes = [
            models.Index(fields=["shop", "name"], name="customer_shop_name"),
            models.Index(fields=["shop", "search_text"], name="customer_begins"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(rider_mass_kg__isnull=True) | models.Q(rider_mass_kg__gt=0),
                name="rider_mass_above_zero",
                violation_error_message="The rider’s weight is above zero.",
            ),
            models.CheckConstraint(
                condition=models.Q(merged_into__isnull=True, merged_at__isnull=True)
                | (
                    models.Q(merged_into__isnull=False, merged_at__isnull=False) & ~models.Q(merged_into=models.F("id"))
                ),
                name="merged_customer_says_when",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def phones(self) -> list[str]:
        """Every number, the first one first, each as it was typed."""
        return [line.strip() for line in (self.phone, *self.other_phones.splitlines()) if line.strip()]


class Bike(models.Model):
    """A bike, described the way the counter would recognise it.

    `leverage` is how far the rear wheel goes for what the shock does, the mean over the travel, with where it is from
    and who noted it when; None where nobody knows it.
    """

    class LeverageSource(models.TextChoices):
        MAKER = "maker", "The frame maker’s papers"
        MEASURED = "measured", "Wheel travel and stroke, measured on this bike"
        TOLD = "told", "The customer’s word"

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="bikes")
    description = models.CharField(max_length=120, help_text="Maker, model and colour, as you would call it.")
    frame_number = models.CharField(max_length=60, blank=True)
    leverage = models.FloatField(null=True, blank=True)
    leverage_source = models.CharField(max_length=10, choices=LeverageSource.choices, blank=True)
    leverage_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    leverage_at = models.DateTimeField(null=True, blank=True)
    notes = models.TextField(blank=True)
    search_text = FoldedTextField(editable=False)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["description", "pk"]
        indexes = [models.Index(fields=["search_text"], name="bike_begins")]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(leverage__isnull=True) | models.Q(leverage__gte=1.0, leverage__lte=4.5),
                name="bike_leverage_possible",
                violation_error_message="The leverage of a rear shock lies between 1 and 4.5.",
            ),
            models.CheckConstraint(
                condition=models.Q(leverage__isnull=True, leverage_source="", leverage_at__isnull=True)
                | (models.Q(leverage__isnull=False, leverage_at__isnull=False) & ~models.Q(leverage_source="")),
                name="bike_leverage_has_a_source",
                violation_error_message="A leverage says where it is from.",
            ),
        ]

    def __str__(self) -> str:
        return self.description

    @property
    def leverage_words(self) -> str:
        """“2.50: the frame maker’s papers, noted 3 Mar 2026 by Ana Reyes”; empty where it is not on record."""
        if self.leverage is None or self.leverage_at is None:
            return ""
        day, source = timezone.localtime(self.leverage_at), self.get_leverage_source_display()
        by = f" by {self.leverage_by}" if self.leverage_by is not None else ""
        return f"{self.leverage:.2f}: {source[:1].lower()}{source[1:]}, noted {day:%-d %b %Y}{by}"
