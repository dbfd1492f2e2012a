"""Sums that the database keeps (their triggers follow after migrating: workshop.kept), and indexes by day."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("diagnosis", "0005_runs_of_one_job"),
        ("workshop", "0016_bolts_named_for_spring_and_damper"),
    ]

    operations = [
        migrations.CreateModel(
            name="LastVisit",
            fields=[
                (
                    "customer",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="last_visit",
                        serialize=False,
                        to="workshop.customer",
                    ),
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
                ("at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="StockLevel",
            fields=[
                (
                    "item",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="kept_level",
                        serialize=False,
                        to="workshop.stockitem",
                    ),
                ),
                ("level", models.DecimalField(decimal_places=2, max_digits=11)),
            ],
        ),
        migrations.AddIndex(
            model_name="finalcharges",
            index=models.Index(fields=["at"], name="charges_of_days"),
        ),
        migrations.AddIndex(
            model_name="servicedone",
            index=models.Index(fields=["on"], name="service_done_days"),
        ),
        migrations.AddIndex(
            model_name="statemove",
            index=models.Index(fields=["at", "to_state"], name="move_of_days"),
        ),
        migrations.AddIndex(
            model_name="ticket",
            index=models.Index(fields=["shop", "booked_at"], name="ticket_booked"),
        ),
        migrations.AddIndex(
            model_name="lastvisit",
            index=models.Index(fields=["shop", "at", "customer"], name="last_visit_oldest"),
        ),
    ]
