"""What the shop holds of each part. A level is the sum of movements, never an edited number."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from specs.models import Part
from workshop.staff.models import Shop
from workshop.tickets.models import PartLine
from workshop.tickets.models.part_line import PRICE_DECIMALS, PRICE_DIGITS

LONGEST_LEAD_DAYS = 365


class StockItem(models.Model):
    """A part as one shop keeps it: where, at what price, and when to order again."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="stock_items")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="stock_items")
    price = models.DecimalField(
        max_digits=PRICE_DIGITS,
        decimal_places=PRICE_DECIMALS,
        validators=[MinValueValidator(0)],
        help_text="Each piece, or each ml.",
    )
    cost = models.DecimalField(
        max_digits=PRICE_DIGITS,
        decimal_places=PRICE_DECIMALS,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    shelf = models.CharField(max_length=40, blank=True)
    supplier = models.CharField(max_length=80, blank=True)
    lead_days = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(LONGEST_LEAD_DAYS)]
    )
    reorder_level = models.DecimalField(
        max_digits=9, decimal_places=2, default=Decimal(0), validators=[MinValueValidator(0)]
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["part__number"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "part"], name="part_once_in_a_shop"),
            models.CheckConstraint(
                condition=models.Q(price__gte=0, reorder_level__gte=0)
                & (models.Q(cost__isnull=True) | models.Q(cost__gte=0)),
                name="stock_item_asks_nothing_below_zero",
            ),
            models.CheckConstraint(
                condition=models.Q(lead_days__isnull=True) | models.Q(lead_days__lte=LONGEST_LEAD_DAYS),
                name="lead_days_within_a_year",
                violation_error_message="Enter a year at most for the days to deliver.",
            ),
        ]

    def __str__(self) -> str:
        return str(self.part)


class StockMovement(models.Model):
    """Something came in or went out; positive in, negative out."""

    class Kind(models.TextChoices):
        RECEIVED = "received", "Received"
        USED = "used", "Used on a ticket"
        COUNTED = "counted", "Counted"
        RETURNED = "returned", "Returned"
        WRITTEN_OFF = "written_off", "Written off"
        SENT_BACK = "sent_back", "Sent back to the supplier"
        UNDONE = "undone", "Booked back"

    item = models.ForeignKey(StockItem, on_delete=models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    quantity = models.DecimalField(max_digits=9, decimal_places=2)
    order_line = models.ForeignKey(
        "OrderLine", on_delete=models.PROTECT, null=True, blank=True, related_name="movements"
    )
    part_line = models.ForeignKey(PartLine, on_delete=models.PROTECT, null=True, blank=True, related_name="movements")
    note = models.CharField(max_length=120, blank=True)
    unit_cost = models.DecimalField(
        max_digits=PRICE_DIGITS,
        decimal_places=PRICE_DECIMALS,
        null=True,
        blank=True,
        help_text="What each was bought at, as it came in or went back; none where it is not known.",
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    sent_id = models.UUIDField(
        null=True, blank=True, editable=False, help_text="Made by the form of a delivery: sent twice, booked once."
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(quantity=0), name="movement_moves_something"),
            models.CheckConstraint(
                condition=models.Q(kind__in=["received", "returned"], quantity__gt=0)
                | models.Q(kind__in=["used", "written_off", "sent_back"], quantity__lt=0)
                | models.Q(kind="counted")
                | models.Q(kind="undone", order_line__isnull=False),
                name="movement_goes_the_way_of_its_kind",
            ),
            models.CheckConstraint(
                condition=models.Q(part_line__isnull=True) | models.Q(kind__in=["used", "returned"]),
                name="movement_of_a_ticket_is_used_or_returned",
            ),
            models.UniqueConstraint(fields=["item", "sent_id"], name="delivery_form_books_once"),
            models.CheckConstraint(
                condition=models.Q(unit_cost__isnull=True)
                | models.Q(unit_cost__gte=0, kind__in=["received", "sent_back", "undone"]),
                name="what_came_in_cost_nothing_less",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.quantity:g} × {self.item}"

    @property
    def size(self) -> Decimal:
        """How much moved, whichever way."""
        return abs(self.quantity)


class PriceChange(models.Model):
    """That a price or cost of an item became another: who, when, from what. Added, never edited."""

    class What(models.TextChoices):
        PRICE = "price", "Price"
        COST = "cost", "Cost"

    item = models.ForeignKey(StockItem, on_delete=models.PROTECT, related_name="price_changes")
    what = models.CharField(max_length=5, choices=What.choices)
    old = models.DecimalField(max_digits=PRICE_DIGITS, decimal_places=PRICE_DECIMALS, null=True)
    new = models.DecimalField(max_digits=PRICE_DIGITS, decimal_places=PRICE_DECIMALS, null=True)
    update = models.ForeignKey("PriceUpdate", on_delete=models.PROTECT, null=True, blank=True, related_name="changes")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=(models.Q(old__isnull=True) | models.Q(old__gte=0))
                & (models.Q(new__isnull=True) | models.Q(new__gte=0)),
                name="price_change_not_negative",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_what_display()} of {self.item}"


class StockLevel(models.Model):
    """The sum of an item's movements. The database's triggers write it; an item that never moved has none."""

    item = models.OneToOneField(StockItem, on_delete=models.CASCADE, primary_key=True, related_name="kept_level")
    level = models.DecimalField(max_digits=11, decimal_places=2)

    def __str__(self) -> str:
        return f"{self.level:g}"
