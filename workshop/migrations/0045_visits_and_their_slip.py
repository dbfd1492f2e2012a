"""What came in together, with which loose parts, and the slip that is signed for it. Every old ticket came alone."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0044_merged_customers"),
    ]

    operations = [
        migrations.AddField(
            model_name="shop",
            name="slip_terms",
            field=models.TextField(blank=True, max_length=4000),
        ),
        migrations.AlterField(
            model_name="document",
            name="kind",
            field=models.CharField(
                choices=[
                    ("work_order", "Work order"),
                    ("label", "Label"),
                    ("customer_report", "Customer report"),
                    ("estimate", "Estimate"),
                    ("slip", "Slip to sign"),
                ],
                max_length=20,
            ),
        ),
        migrations.CreateModel(
            name="Visit",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("loose", models.JSONField(blank=True, default=list)),
                ("loose_words", models.CharField(blank=True, max_length=200)),
                ("shelf", models.CharField(blank=True, max_length=40)),
                (
                    "came_by",
                    models.CharField(
                        choices=[("counter", "Over the counter"), ("parcel", "By parcel")],
                        default="counter",
                        max_length=10,
                    ),
                ),
                ("came_carrier", models.CharField(blank=True, max_length=60)),
                ("came_number", models.CharField(blank=True, max_length=60)),
                (
                    "goes_by",
                    models.CharField(
                        choices=[("counter", "Over the counter"), ("parcel", "By parcel")],
                        default="counter",
                        max_length=10,
                    ),
                ),
                ("goes_carrier", models.CharField(blank=True, max_length=60)),
                ("goes_number", models.CharField(blank=True, max_length=60)),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "shop",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="visits", to="workshop.shop"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.AddField(
            model_name="ticket",
            name="visit",
            field=models.ForeignKey(
                blank=True,
                help_text="Empty: it came alone.",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="tickets",
                to="workshop.visit",
            ),
        ),
        migrations.AddConstraint(
            model_name="visit",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("came_by", "parcel"),
                    models.Q(("came_by", "counter"), ("came_carrier", ""), ("came_number", "")),
                    _connector="OR",
                ),
                name="only_a_parcel_came_by_a_carrier",
                violation_error_message="Only a parcel has a carrier and a number.",
            ),
        ),
        migrations.AddConstraint(
            model_name="visit",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("goes_by", "parcel"),
                    models.Q(("goes_by", "counter"), ("goes_carrier", ""), ("goes_number", "")),
                    _connector="OR",
                ),
                name="only_a_parcel_goes_by_a_carrier",
                violation_error_message="Only a parcel has a carrier and a number.",
            ),
        ),
    ]
