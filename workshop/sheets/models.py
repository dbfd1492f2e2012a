"""A sheet that was brought in, row by row: what would become of each, what became of it, and how it was before."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from workshop.staff.models import Shop


class Sheet(models.Model):
    """A file of rows. A pass over them goes in steps; `handled` rows of it are behind."""

    class State(models.TextChoices):
        MATCHING = "matching", "Not matched yet"
        LOOKING = "looking", "Being looked at"
        LOOKED = "looked", "Looked at"
        IMPORTING = "importing", "Being imported"
        STOPPED = "stopped", "Stopped"
        IMPORTED = "imported", "Imported"
        TAKING_BACK = "taking_back", "Being taken back"
        TAKEN_BACK = "taken_back", "Taken back"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=20)
    name = models.CharField(max_length=120, help_text="The file, as it was called.")
    state = models.CharField(max_length=12, choices=State.choices, default=State.LOOKING)
    rows_in_all = models.PositiveIntegerField()
    handled = models.PositiveIntegerField(default=0)
    with_counts = models.BooleanField(default=False)
    heads = models.JSONField(default=list, help_text="Of the file’s columns, as they stand in it.")
    matching = models.JSONField(default=list, help_text="Which column of the layout each of them is; empty: left out.")
    decimal_sign = models.CharField(max_length=1, blank=True, help_text="Of its numbers; empty: each as it stands.")
    notes = models.JSONField(default=list, help_text="What a person has to know of how the file was read.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    imported_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    imported_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(handled__lte=models.F("rows_in_all")), name="sheet_handles_no_more_than_it_has"
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.get_state_display()})"

    @property
    def is_running(self) -> bool:
        """Whether a pass is under way: the next step goes on with it."""
        return self.state in (self.State.LOOKING, self.State.IMPORTING, self.State.TAKING_BACK)

    @property
    def may_be_imported(self) -> bool:
        return self.state in (self.State.LOOKED, self.State.STOPPED)

    @property
    def may_be_taken_back(self) -> bool:
        return self.state in (self.State.STOPPED, self.State.IMPORTED)


class SheetChunk(models.Model):
    """Rows of the file as they stand in it, some hundreds together: lists of line, cells and what is wrong with it.

    They are kept until the import begins, so that columns can be matched anew.
    """

    sheet = models.ForeignKey(Sheet, on_delete=models.CASCADE, related_name="chunks")
    first = models.PositiveIntegerField(help_text="The position of its first row.")
    rows = models.JSONField()

    class Meta:
        ordering = ["first"]
        constraints = [models.UniqueConstraint(fields=["sheet", "first"], name="chunk_once_in_a_sheet")]

    def __str__(self) -> str:
        return f"Rows from {self.first} of {self.sheet}"


class SheetRow(models.Model):
    """A row: its cells, what it would do (`fate`), and what it did (`outcome`)."""

    class Fate(models.TextChoices):
        NEW = "new", "new"
        CHANGED = "changed", "changed"
        UNCHANGED = "unchanged", "unchanged"
        TWICE = "twice", "same as a row before"
        REFUSED = "refused", "refused"

    class Outcome(models.TextChoices):
        NONE = "", "not imported"
        IMPORTED = "imported", "imported"
        LEFT_OUT = "left_out", "left out"
        TAKEN_BACK = "taken_back", "taken back"
        STAYS = "stays", "stays"

    sheet = models.ForeignKey(Sheet, on_delete=models.CASCADE, related_name="rows")
    position = models.PositiveIntegerField()
    place = models.PositiveIntegerField(help_text="The line of the file.")
    key = models.CharField(max_length=120, blank=True, help_text="What the row is about, folded; once in a sheet.")
    second_key = models.CharField(max_length=120, blank=True, help_text="By what else it may be known, folded.")
    third_key = models.CharField(max_length=120, blank=True, help_text="And by what else.")
    same_as = models.PositiveIntegerField(null=True, help_text="The line before it that seems to be about the same.")
    is_another = models.BooleanField(default=False, help_text="A person said that it is about another all the same.")
    cells = models.JSONField()
    fate = models.CharField(max_length=10, choices=Fate.choices, default=Fate.UNCHANGED)
    reason = models.TextField(blank=True)
    changes = models.JSONField(default=list, help_text="Lists of column, what is stored, what the file says.")
    count = models.JSONField(default=list, help_text="The level and the file’s count, where they differ.")
    counts = models.BooleanField(default=False, help_text="Whether they do.")
    before = models.JSONField(default=dict, help_text="What stood there when it was looked at, to put it back.")
    after = models.JSONField(default=dict, help_text="What stands there since it was imported.")
    outcome = models.CharField(max_length=10, choices=Outcome.choices, default=Outcome.NONE, blank=True)
    said = models.TextField(blank=True, help_text="Why it was left out, or stays.")
    about = models.PositiveBigIntegerField(null=True, help_text="The customer whom it is about; erased with them.")

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["sheet", "position"], name="row_once_in_a_sheet")]
        indexes = [
            models.Index(fields=["sheet", "key"], name="sheet_rows_by_key"),
            models.Index(fields=["sheet", "second_key"], name="sheet_rows_by_second_key"),
            models.Index(fields=["sheet", "third_key"], name="sheet_rows_by_third_key"),
            models.Index(fields=["sheet", "about"], name="sheet_rows_by_customer"),
            models.Index(fields=["sheet", "fate", "position"], name="sheet_rows_by_fate"),
        ]

    def __str__(self) -> str:
        return f"Line {self.place}: {self.get_fate_display()}"


class OldNumber(models.Model):
    """The number that a record had where it was brought in from, so that rows of another file can name it."""

    class Thing(models.TextChoices):
        CUSTOMER = "customer", "Customer"
        BIKE = "bike", "Bike"
        UNIT = "unit", "Fork or shock"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="+")
    thing = models.CharField(max_length=10, choices=Thing.choices)
    number = models.CharField(max_length=60)
    record = models.PositiveBigIntegerField(help_text="The key of the customer, bike or unit.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "thing", "number"], name="old_number_names_one_record"),
            models.CheckConstraint(condition=~models.Q(number=""), name="old_number_says_something"),
        ]
        indexes = [models.Index(fields=["shop", "thing", "record"], name="old_numbers_of_a_record")]

    def __str__(self) -> str:
        return f"{self.get_thing_display()} {self.number}"
