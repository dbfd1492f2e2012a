"""Tickets that were booked under the wrong customer: under whom they stood before. None do until one is moved."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0041_photos_before_and_after"),
    ]

    operations = [
        migrations.CreateModel(
            name="StoodUnder",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("until", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "customer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tickets_before",
                        to="workshop.customer",
                    ),
                ),
                (
                    "ticket",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="stood_under", to="workshop.ticket"
                    ),
                ),
            ],
            options={"ordering": ["pk"]},
        ),
    ]
