"""Customers and their bikes."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from specs.models.parts import above_zero
from workshop.staff.models import Shop
from workshop.web.folded_field import FoldedTextField


class Customer(models.Model):
    """Who brings the fork, how to reach them, and whether they want to be reminded."""

    class Contact(models.TextChoices):
        PHONE = "phone", "Phone"
        MESSAGE = "message", "Text message"
        EMAIL = "email", "Email"
        LETTER = "letter", "Letter"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="customers")
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(blank=True)
    preferred_contact = models.CharField(max_length=10, choices=Contact.choices, default=Contact.PHONE)
    agreed_to_reminders = models.BooleanField(default=False)
    agreed_to_reminders_at = models.DateTimeField(null=True, blank=True)
    rider_mass_kg = models.FloatField(null=True, blank=True, validators=[above_zero])
    notes = models.TextField(blank=True)
    search_text = FoldedTextField(editable=False)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

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
                violation_error_message="The rider's weight is above zero.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Bike(models.Model):
    """A bike, described the way the counter would recognise it."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="bikes")
    description = models.CharField(max_length=120, help_text="Maker, model and colour, as you would call it.")
    frame_number = models.CharField(max_length=60, blank=True)
    notes = models.TextField(blank=True)
    search_text = FoldedTextField(editable=False)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["description", "pk"]
        indexes = [models.Index(fields=["search_text"], name="bike_begins")]

    def __str__(self) -> str:
        return self.description
