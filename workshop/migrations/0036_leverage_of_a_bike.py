"""How far the rear wheel goes for what its shock does: unknown of every bike until somebody notes it."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0033_air_in_the_shops_pump"),
    ]

    operations = [
        migrations.AddField(
            model_name="bike",
            name="leverage",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="bike",
            name="leverage_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="bike",
            name="leverage_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="bike",
            name="leverage_source",
            field=models.CharField(
                blank=True,
                choices=[
                    ("maker", "The frame maker’s papers"),
                    ("measured", "Wheel travel and stroke, measured on this bike"),
                    ("told", "The customer’s word"),
                ],
                max_length=10,
            ),
        ),
        migrations.AddConstraint(
            model_name="bike",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("leverage__isnull", True),
                    models.Q(("leverage__gte", 1.0), ("leverage__lte", 4.5)),
                    _connector="OR",
                ),
                name="bike_leverage_possible",
                violation_error_message="The leverage of a rear shock lies between 1 and 4.5.",
            ),
        ),
        migrations.AddConstraint(
            model_name="bike",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("leverage__isnull", True), ("leverage_at__isnull", True), ("leverage_source", "")),
                    models.Q(
                        ("leverage__isnull", False),
                        ("leverage_at__isnull", False),
                        models.Q(("leverage_source", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="bike_leverage_has_a_source",
                violation_error_message="A leverage says where it is from.",
            ),
        ),
    ]
