"""The due list as it is kept; its triggers follow after migrating: workshop.kept."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0017_kept_sums"),
    ]

    operations = [
        migrations.CreateModel(
            name="DueUnit",
            fields=[
                (
                    "unit",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="due_unit",
                        serialize=False,
                        to="workshop.suspensionunit",
                    ),
                ),
                (
                    "place",
                    models.PositiveSmallIntegerField(
                        choices=[(0, "Overdue"), (1, "Due"), (2, "Coming Up"), (3, "Put Off"), (4, "Nothing")]
                    ),
                ),
                (
                    "turn",
                    models.IntegerField(
                        default=0,
                        help_text="The order within a place, from the day of the service that is named first.",
                    ),
                ),
                ("may_remind", models.BooleanField(help_text="Whether the customer agreed to reminders.")),
                ("as_of", models.DateField(help_text="The day on which this was worked out.")),
                (
                    "look_again_on",
                    models.DateField(help_text="The first day that may change it, without a new entry.", null=True),
                ),
                (
                    "shop",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="workshop.shop",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(fields=["shop", "place", "turn", "unit"], name="due_units"),
                    models.Index(fields=["shop", "may_remind", "place", "turn", "unit"], name="due_units_to_remind"),
                    models.Index(fields=["shop", "look_again_on"], name="due_units_to_look_at"),
                    models.Index(fields=["shop", "as_of"], name="due_units_worked_out"),
                ],
            },
        ),
        migrations.CreateModel(
            name="UnitChanged",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "shop",
                    models.ForeignKey(
                        db_constraint=False,
                        db_index=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="workshop.shop",
                    ),
                ),
                (
                    "unit",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="workshop.suspensionunit",
                    ),
                ),
            ],
            options={
                "indexes": [models.Index(fields=["shop", "id"], name="units_changed_in_order")],
            },
        ),
    ]
