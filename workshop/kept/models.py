"""Sums that the database keeps itself, so that a page need not read years of rows to show one number."""

from __future__ import annotations

from django.db import models

from workshop.customers.models import Customer
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit


class LastVisit(models.Model):
    """When a customer's tickets last moved, or when they were entered. Triggers write it; the erased have none."""

    customer = models.OneToOneField(Customer, on_delete=models.CASCADE, primary_key=True, related_name="last_visit")
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="+", db_index=False)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["shop", "at", "customer"], name="last_visit_oldest")]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d}"


class DueUnit(models.Model):
    """Where a unit stands on the due list. `workshop.reminders.kept_list` writes it; until `look_again_on` it holds."""

    class Place(models.IntegerChoices):
        """In the order of the list; the last two are not on it."""

        OVERDUE = 0
        DUE = 1
        COMING_UP = 2
        PUT_OFF = 3
        NOTHING = 4

    unit = models.OneToOneField(SuspensionUnit, on_delete=models.CASCADE, primary_key=True, related_name="due_unit")
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="+", db_index=False)
    place = models.PositiveSmallIntegerField(choices=Place.choices)
    turn = models.IntegerField(
        default=0, help_text="The order within a place, from the day of the service that is named first."
    )
    may_remind = models.BooleanField(help_text="Whether the customer agreed to reminders.")
    as_of = models.DateField(help_text="The day on which this was worked out.")
    look_again_on = models.DateField(null=True, help_text="The first day that may change it, without a new entry.")

    class Meta:
        indexes = [
            models.Index(fields=["shop", "place", "turn", "unit"], name="due_units"),
            models.Index(fields=["shop", "may_remind", "place", "turn", "unit"], name="due_units_to_remind"),
            models.Index(fields=["shop", "look_again_on"], name="due_units_to_look_at"),
            models.Index(fields=["shop", "as_of"], name="due_units_worked_out"),
        ]

    def __str__(self) -> str:
        return f"{self.get_place_display()}, as of {self.as_of}"


class UnitChanged(models.Model):
    """That something was entered or taken back from which a unit's place on the due list follows. Triggers write it."""

    # Without constraints: the rows of a unit that is taken away, taken away with it, are changes too.
    unit = models.ForeignKey(SuspensionUnit, on_delete=models.CASCADE, related_name="+", db_constraint=False)
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="+", db_constraint=False, db_index=False)

    class Meta:
        indexes = [models.Index(fields=["shop", "id"], name="units_changed_in_order")]

    def __str__(self) -> str:
        return f"unit {self.unit_id}"
