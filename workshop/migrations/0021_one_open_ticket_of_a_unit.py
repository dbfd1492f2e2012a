"""A unit is open on one ticket at a time.

A shop may have units open twice from before. Nobody but the shop knows which ticket is the real one, so neither is
closed and nothing is moved: all but the first of a unit get the moment at which they were found, and are left out of
the constraint until they are closed. The pages of both say so.
"""

from __future__ import annotations

from typing import Any

from django.db import migrations, models
from django.utils import timezone

OPEN = ["booked_in", "on_the_bench", "waiting", "ready"]


def mark_doubles(apps: Any, schema_editor: Any) -> None:
    """The lowest number of a unit's open tickets is the one that counts."""
    tickets = apps.get_model("workshop", "Ticket").objects.using(schema_editor.connection.alias)
    counted: set[int] = set()
    doubles = []
    for pk, unit in tickets.filter(state__in=OPEN).order_by("number", "pk").values_list("pk", "unit"):
        if unit in counted:
            doubles.append(pk)
        counted.add(unit)
    found_at = timezone.now()
    for start in range(0, len(doubles), 500):
        tickets.filter(pk__in=doubles[start : start + 500]).update(doubled_at=found_at)


class Migration(migrations.Migration):
    dependencies = [("workshop", "0020_fold_letters_without_marks")]

    operations = [
        migrations.AddField(
            model_name="ticket",
            name="doubled_at",
            field=models.DateTimeField(
                blank=True,
                editable=False,
                help_text="When it was found open beside another ticket of its unit, from before the database "
                "forbade that.",
                null=True,
            ),
        ),
        migrations.RunPython(mark_doubles, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="ticket",
            constraint=models.UniqueConstraint(
                condition=models.Q(("doubled_at__isnull", True), ("state__in", OPEN)),
                fields=("unit",),
                name="one_open_ticket_of_a_unit",
                violation_error_message="This unit is in the shop already, on another ticket.",
            ),
        ),
    ]
