"""The till: hand-overs, payments, numbered receipts and credit notes, and the drawer as it was counted.

Rows are added, never edited. Amounts are in the shop's currency as it was then.
"""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy

from workshop.customers.models import Customer
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket


class HandOver(models.Model):
    """That a ticket was handed over at the counter with what was to be paid for it. Tickets handed back before
    payments were kept have none: of them nobody knows here whether they were paid.
    """

    ticket = models.ForeignKey(Ticket, on_delete=models.PROTECT, related_name="hand_overs")
    client_id = models.UUIDField(unique=True, editable=False, help_text="Made by the page: sent twice, done once.")
    currency = models.CharField(max_length=3)
    gross = models.DecimalField(max_digits=10, decimal_places=2, help_text="What was charged, with tax.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=Q(gross__gte=0), name="handed_over_for_no_less_than_nothing")]

    def __str__(self) -> str:
        return f"Hand-over of {self.ticket}"


class HandOverTakenBack(models.Model):
    """That a hand-over does not count any more: the wrong row, or opened again with a reason."""

    hand_over = models.OneToOneField(HandOver, on_delete=models.PROTECT, related_name="taken_back")
    reason = models.CharField(max_length=200, blank=True, help_text="Empty where it was undone at once.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.hand_over}, taken back"


class Payment(models.Model):
    """Money that came in for a ticket, or went back (below zero, with a reason). Recorded, not processed.

    `account` is no money: it says that so much was left open when the ticket was handed over.
    """

    class Kind(models.TextChoices):
        CASH = "cash", gettext_lazy("Cash")
        CARD = "card", gettext_lazy("Card")
        TRANSFER = "transfer", gettext_lazy("Bank transfer")
        ACCOUNT = "account", gettext_lazy("On account")

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="payments")
    ticket = models.ForeignKey(Ticket, on_delete=models.PROTECT, related_name="payments")
    hand_over = models.ForeignKey(
        HandOver,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="payments",
        help_text="Taken with or after it; none for a deposit.",
    )
    kind = models.CharField(max_length=8, choices=Kind.choices)
    amount = models.DecimalField(max_digits=10, decimal_places=2)
    given = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True, help_text="Cash as handed in.")
    currency = models.CharField(max_length=3)
    reason = models.CharField(max_length=200, blank=True)
    client_id = models.UUIDField(editable=False, help_text="Made by the page: sent twice, booked once.")
    part = models.PositiveSmallIntegerField(default=0, help_text="Which of what was paid in one act.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["client_id", "part"], name="payment_sent_twice_is_booked_once"),
            models.CheckConstraint(
                condition=Q(kind__in=["cash", "card", "transfer", "account"]), name="payment_kind_is_known"
            ),
            models.CheckConstraint(
                condition=~Q(amount=0) & (Q(amount__gt=0) | ~Q(kind="account")), name="payment_is_not_nothing"
            ),
            models.CheckConstraint(
                condition=Q(amount__gt=0) | ~Q(reason=""),
                name="money_paid_back_has_a_reason",
                violation_error_message="Say why it is paid back.",
            ),
            models.CheckConstraint(
                condition=Q(given__isnull=True) | Q(kind="cash", amount__gt=0, given__gte=F("amount")),
                name="cash_given_covers_what_is_paid",
            ),
        ]
        indexes = [models.Index(fields=["shop", "at"], name="payments_of_days")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.amount} for {self.ticket}"


class ReceiptSettings(models.Model):
    """What a shop's receipts say of the shop. A shop without a row has no numbers on them."""

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="receipt_settings")
    tax_number = models.CharField(max_length=40, blank=True)
    registration_number = models.CharField(max_length=60, blank=True)
    foot = models.CharField(max_length=200, blank=True)
    logo = models.TextField(blank=True, editable=False, help_text="A PNG of ours, as an address that holds it.")
    version = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return f"Receipts of {self.shop}"


class ReceiptSeries(models.Model):
    """The last number that was given in a year. Held while the next one is taken, so that none is left out."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="receipt_series")
    kind = models.CharField(max_length=7)
    year = models.PositiveSmallIntegerField()
    last = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["shop", "kind", "year"], name="one_series_of_a_year")]

    def __str__(self) -> str:
        return f"{self.kind} {self.year}"


class Receipt(models.Model):
    """A receipt or a credit note under its number, frozen. A credit note's sums are below zero."""

    class Kind(models.TextChoices):
        RECEIPT = "receipt", gettext_lazy("Receipt")
        CREDIT = "credit", gettext_lazy("Credit note")

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="receipts")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="receipts")
    kind = models.CharField(max_length=7, choices=Kind.choices)
    year = models.PositiveSmallIntegerField()
    number = models.PositiveIntegerField()
    corrects = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="credit_notes")
    reason = models.CharField(max_length=200, blank=True)
    client_id = models.UUIDField(null=True, blank=True, unique=True, editable=False, help_text="Of one in part.")
    currency = models.CharField(max_length=3)
    tax_name = models.CharField(max_length=20)
    data = models.JSONField(help_text="What it prints.")
    tax_rows = models.JSONField(help_text="Percent, net, tax and gross of each rate.")
    net = models.DecimalField(max_digits=10, decimal_places=2)
    tax = models.DecimalField(max_digits=10, decimal_places=2)
    gross = models.DecimalField(max_digits=10, decimal_places=2)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "kind", "year", "number"], name="receipt_number_once_in_a_year"),
            models.CheckConstraint(condition=Q(number__gte=1), name="receipt_numbered_from_one"),
            models.CheckConstraint(
                condition=Q(kind="receipt", corrects__isnull=True, gross__gte=0)
                | (Q(kind="credit", corrects__isnull=False, gross__lte=0) & ~Q(reason="")),
                name="credit_note_says_what_it_corrects",
            ),
        ]
        indexes = [models.Index(fields=["shop", "at"], name="receipts_of_days")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number_words}"

    @property
    def number_words(self) -> str:
        """The number as it is printed: 2026-0012, of a credit note C2026-0003."""
        return f"{'C' if self.kind == self.Kind.CREDIT else ''}{self.year}-{self.number:04}"


class ReceiptTicket(models.Model):
    """A hand-over that a receipt or credit note covers, and its share of the sum."""

    receipt = models.ForeignKey(Receipt, on_delete=models.PROTECT, related_name="covers")
    ticket = models.ForeignKey(Ticket, on_delete=models.PROTECT, related_name="receipt_shares")
    hand_over = models.ForeignKey(HandOver, on_delete=models.PROTECT, related_name="receipt_shares")
    kind = models.CharField(max_length=7, choices=Receipt.Kind.choices)
    gross = models.DecimalField(max_digits=10, decimal_places=2)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["hand_over"],
                condition=Q(kind="receipt"),
                name="one_receipt_of_a_hand_over",
                violation_error_message="There is a receipt for this already.",
            ),
            models.UniqueConstraint(fields=["receipt", "hand_over"], name="a_receipt_once_of_a_hand_over"),
        ]

    def __str__(self) -> str:
        return f"{self.receipt} for {self.ticket}"


class DrawerCount(models.Model):
    """The drawer as somebody counted it at the end of a day. Counted again is a further row; the last one counts."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="drawer_counts")
    day = models.DateField()
    revision = models.PositiveSmallIntegerField()
    currency = models.CharField(max_length=3)
    opening = models.DecimalField(max_digits=10, decimal_places=2, help_text="In the drawer when the day began.")
    cash = models.DecimalField(max_digits=10, decimal_places=2, help_text="Cash taken less cash paid back that day.")
    expected = models.DecimalField(max_digits=10, decimal_places=2, help_text="Opening and cash.")
    counted = models.DecimalField(max_digits=10, decimal_places=2)
    taken_out = models.DecimalField(max_digits=10, decimal_places=2, help_text="To the bank; the rest stays.")
    reason = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["day", "revision"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "day", "revision"], name="drawer_counts_are_numbered"),
            models.CheckConstraint(
                condition=Q(counted=F("expected")) | ~Q(reason=""),
                name="difference_in_the_drawer_has_a_reason",
                violation_error_message="Say why the drawer does not agree.",
            ),
            models.CheckConstraint(
                condition=Q(opening__gte=0, counted__gte=0, taken_out__gte=0, taken_out__lte=F("counted")),
                name="drawer_holds_no_less_than_nothing",
            ),
        ]

    def __str__(self) -> str:
        return f"Drawer of {self.day}"

    @property
    def difference(self) -> Decimal:
        """Above zero where there is too much in it."""
        return self.counted - self.expected

    @property
    def stays(self) -> Decimal:
        """What is left in the drawer for the next day."""
        return self.counted - self.taken_out
