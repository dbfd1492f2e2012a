"""A ticket: one visit of one unit, from the counter to hand-back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models

from diagnosis.models import Complaint, Run
from workshop.customers.models import Bike, Customer
from workshop.staff.models import Shop, User
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.models.visit import Visit

if TYPE_CHECKING:
    from typing import Self


ROW_FIELDS = (
    *("number", "complaint_words", "state", "waiting_for", "state_since", "promised_on", "version", "booked_at"),
    *("customer__name", "customer__phone", "bike__description", "unit__kind"),
    *("unit__described_as", "mechanic__username", "mechanic__first_name", "mechanic__last_name"),
    *(f"unit__model__{field}" for field in ("maker", "name", "year_from", "year_to")),
)


class TicketQuerySet(models.QuerySet["Ticket"]):
    def of_shop(self, shop: Shop | None) -> Self:
        return self.filter(shop=shop)

    def open(self) -> Self:
        """Tickets whose unit is still in the shop."""
        return self.filter(state__in=Ticket.OPEN_STATES)

    def with_names(self) -> Self:
        """Everything a list row says about a ticket, in one query."""
        return self.select_related("customer", "unit__model", "bike", "mechanic")

    def for_rows(self, *also: str) -> Self:
        """Only what a row of a list says, and the fields named: half the columns, half the time of `with_names`."""
        return self.with_names().only(*ROW_FIELDS, *also)


class Ticket(models.Model):
    """What the customer said, what was promised, and where the unit is now."""

    class State(models.TextChoices):
        BOOKED_IN = "booked_in", "Booked in"
        ON_THE_BENCH = "on_the_bench", "On the bench"
        WAITING = "waiting", "Waiting"
        READY = "ready", "Ready"
        HANDED_BACK = "handed_back", "Handed back"
        CALLED_OFF = "called_off", "Cancelled"

    class WaitingFor(models.TextChoices):
        PARTS = "parts", "parts"
        CUSTOMER = "customer", "the customer’s answer"

    OPEN_STATES = (State.BOOKED_IN, State.ON_THE_BENCH, State.WAITING, State.READY)

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="tickets")
    number = models.PositiveIntegerField()
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="tickets")
    unit = models.ForeignKey(SuspensionUnit, on_delete=models.PROTECT, related_name="tickets")
    bike = models.ForeignKey(Bike, on_delete=models.PROTECT, null=True, blank=True, related_name="tickets")
    visit = models.ForeignKey(
        Visit,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="tickets",
        help_text="Empty: it came alone.",
    )
    complaint_words = models.TextField(help_text="What the customer said, in their words.")
    complaints = models.ManyToManyField(Complaint, blank=True, related_name="+")
    state = models.CharField(max_length=12, choices=State.choices, default=State.BOOKED_IN)
    waiting_for = models.CharField(max_length=10, choices=WaitingFor.choices, blank=True)
    state_since = models.DateTimeField()
    promised_on = models.DateField()
    price_ceiling = models.DecimalField(
        max_digits=9, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    no_limit_said = models.BooleanField(
        default=False, help_text="The customer said that there is no limit; without a limit and this, nobody asked."
    )
    mechanic = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="bench_tickets")
    notes = models.TextField(blank=True)
    client_id = models.UUIDField(
        unique=True,
        null=True,
        blank=True,
        editable=False,
        help_text="Made by the booking form: sent twice, booked once.",
    )
    doubled_at = models.DateTimeField(
        null=True,
        blank=True,
        editable=False,
        help_text="When it was found open beside another ticket of its unit, from before the database forbade that.",
    )
    search_text = models.TextField(editable=False)
    version = models.PositiveIntegerField(default=1)
    booked_at = models.DateTimeField()
    booked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    objects = TicketQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="ticket_number_once_in_a_shop"),
            models.UniqueConstraint(
                fields=["unit"],
                condition=models.Q(
                    state__in=["booked_in", "on_the_bench", "waiting", "ready"], doubled_at__isnull=True
                ),
                name="one_open_ticket_of_a_unit",
                violation_error_message="This unit is in the shop already, on another ticket.",
            ),
            models.CheckConstraint(
                condition=models.Q(state="waiting", waiting_for__in=["parts", "customer"])
                | (~models.Q(state="waiting") & models.Q(waiting_for="")),
                name="waiting_says_what_for",
            ),
            models.CheckConstraint(
                condition=models.Q(price_ceiling__isnull=True) | models.Q(price_ceiling__gte=0),
                name="price_ceiling_not_negative",
            ),
            models.CheckConstraint(
                condition=models.Q(no_limit_said=False) | models.Q(price_ceiling__isnull=True),
                name="no_limit_goes_without_a_ceiling",
                violation_error_message="A limit and no limit cannot both be.",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    state__in=["booked_in", "on_the_bench", "waiting", "ready", "handed_back", "called_off"]
                ),
                name="ticket_state_is_known",
            ),
        ]
        indexes = [
            models.Index(fields=["shop", "state", "promised_on"], name="ticket_board"),
            models.Index(fields=["mechanic", "state"], name="ticket_mechanic"),
            models.Index(fields=["shop", "state", "number"], name="ticket_list"),
            models.Index(fields=["shop", "booked_at"], name="ticket_booked"),
        ]

    def __str__(self) -> str:
        return f"Ticket {self.number}"

    @property
    def state_words(self) -> str:
        """The state as people say it, with what is waited for."""
        words = self.State(self.state).label
        return f"{words} for {self.WaitingFor(self.waiting_for).label}" if self.waiting_for else words

    def complaint_keys(self) -> list[int]:
        """The primary keys of its complaints, in their order; one light query."""
        through = Ticket.complaints.through.objects.filter(ticket=self.pk).order_by("complaint__position", "pk")
        return list(through.values_list("complaint", flat=True))

    @property
    def is_open(self) -> bool:
        return self.state in self.OPEN_STATES


class StateMove(models.Model):
    """That a ticket went from one state to another: who, when and why."""

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="moves")
    from_state = models.CharField(max_length=12, choices=Ticket.State.choices, blank=True)
    to_state = models.CharField(max_length=12, choices=Ticket.State.choices)
    waiting_for = models.CharField(max_length=10, choices=Ticket.WaitingFor.choices, blank=True)
    reason = models.TextField(blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["at", "to_state"], name="move_of_days")]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(waiting_for="") | models.Q(to_state="waiting"),
                name="only_a_move_to_waiting_says_what_for",
            )
        ]

    def __str__(self) -> str:
        return f"{self.ticket}: {self.get_to_state_display()}"


class TicketEvent(models.Model):
    """A line of the ticket's logbook: any change to it, with who and when."""

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="events")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    kind = models.CharField(max_length=24, blank=True, help_text="A key of KINDS in workshop.work.event_words.")
    values = models.JSONField(default=dict, blank=True, help_text="What its words are made of.")
    text = models.CharField(max_length=300, blank=True, help_text="Words of a line without a kind; shown as they are.")
    changes = models.JSONField(default=dict, blank=True, help_text="Key of a field to [before, after].")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.kind or self.text


class TicketRun(models.Model):
    """That a run was made for a ticket."""

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="ticket_runs")
    run = models.OneToOneField(Run, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.run} for {self.ticket}"
