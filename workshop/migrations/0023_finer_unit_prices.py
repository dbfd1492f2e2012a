"""Prices and costs each have four decimals: a litre at 14.90 is 0.0149 a ml."""

import django.core.validators
from django.db import migrations, models

NOT_BELOW_ZERO = django.core.validators.MinValueValidator(0)


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0022_what_the_booking_heard"),
    ]

    operations = [
        migrations.AlterField(
            model_name="orderline",
            name="cost",
            field=models.DecimalField(
                blank=True, decimal_places=4, max_digits=11, null=True, validators=[NOT_BELOW_ZERO]
            ),
        ),
        migrations.AlterField(
            model_name="partline",
            name="unit_price",
            field=models.DecimalField(
                blank=True, decimal_places=4, help_text="0 is free of charge.", max_digits=11, null=True
            ),
        ),
        migrations.AlterField(
            model_name="stockitem",
            name="cost",
            field=models.DecimalField(
                blank=True, decimal_places=4, max_digits=11, null=True, validators=[NOT_BELOW_ZERO]
            ),
        ),
        migrations.AlterField(
            model_name="stockitem",
            name="price",
            field=models.DecimalField(
                decimal_places=4, help_text="Each piece, or each ml.", max_digits=11, validators=[NOT_BELOW_ZERO]
            ),
        ),
    ]
