"""Several ways of doing a job on one estimate, of which the customer takes one."""

from decimal import Decimal

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("specs", "0008_more_spec_quantities"),
        ("workshop", "0080_prices_and_tax_with_their_day"),
    ]

    operations = [
        migrations.CreateModel(
            name="Variant",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=60)),
                ("dropped", models.BooleanField(default=False)),
                ("taken", models.BooleanField(default=False)),
                ("at", models.DateTimeField()),
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
                    "ticket",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="variants", to="workshop.ticket"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.AddField(
            model_name="agreement",
            name="variant",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="answers",
                to="workshop.variant",
            ),
        ),
        migrations.CreateModel(
            name="VariantLine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("words", models.CharField(blank=True, max_length=120)),
                ("quantity", models.DecimalField(decimal_places=2, default=Decimal("1"), max_digits=8)),
                (
                    "price",
                    models.DecimalField(
                        blank=True,
                        decimal_places=4,
                        max_digits=11,
                        null=True,
                        validators=[django.core.validators.MinValueValidator(0, "A price cannot be below zero.")],
                    ),
                ),
                ("minutes", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("dropped", models.BooleanField(default=False)),
                (
                    "labour_line",
                    models.OneToOneField(
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="offered_as",
                        to="workshop.labourline",
                    ),
                ),
                (
                    "part",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="specs.part",
                    ),
                ),
                (
                    "part_line",
                    models.OneToOneField(
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="offered_as",
                        to="workshop.partline",
                    ),
                ),
                (
                    "variant",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="lines", to="workshop.variant"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.AddConstraint(
            model_name="variant",
            constraint=models.UniqueConstraint(
                condition=models.Q(("taken", True)), fields=("ticket",), name="one_variant_is_taken"
            ),
        ),
        migrations.AddConstraint(
            model_name="variant",
            constraint=models.CheckConstraint(
                condition=models.Q(("name", ""), _negated=True), name="variant_has_a_name"
            ),
        ),
        migrations.AddConstraint(
            model_name="variant",
            constraint=models.CheckConstraint(
                condition=models.Q(("taken", False), ("dropped", False), _connector="OR"),
                name="taken_variant_is_not_dropped",
            ),
        ),
        migrations.AddConstraint(
            model_name="variantline",
            constraint=models.CheckConstraint(
                condition=models.Q(("quantity__gt", 0)), name="variant_line_takes_something"
            ),
        ),
        migrations.AddConstraint(
            model_name="variantline",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("minutes__isnull", True), ("part__isnull", False)),
                    models.Q(("part__isnull", True), ("price__isnull", False), models.Q(("words", ""), _negated=True)),
                    _connector="OR",
                ),
                name="variant_line_is_a_part_or_work",
            ),
        ),
        migrations.AddConstraint(
            model_name="variantline",
            constraint=models.CheckConstraint(
                condition=models.Q(("price__isnull", True), ("price__gte", 0), _connector="OR"),
                name="variant_price_not_negative",
            ),
        ),
    ]
