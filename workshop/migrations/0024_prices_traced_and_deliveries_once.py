"""Who changed a price, when, from what; and which form booked a delivery, so that one sent twice books once."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("workshop", "0023_finer_unit_prices"),
    ]

    operations = [
        migrations.CreateModel(
            name="PriceChange",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("what", models.CharField(choices=[("price", "Price"), ("cost", "Cost")], max_length=5)),
                ("old", models.DecimalField(decimal_places=4, max_digits=11, null=True)),
                ("new", models.DecimalField(decimal_places=4, max_digits=11, null=True)),
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
                    "item",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="price_changes",
                        to="workshop.stockitem",
                    ),
                ),
            ],
            options={"ordering": ["pk"]},
        ),
        migrations.AddField(
            model_name="stockmovement",
            name="sent_id",
            field=models.UUIDField(
                blank=True,
                editable=False,
                help_text="Made by the form of a delivery: sent twice, booked once.",
                null=True,
            ),
        ),
        migrations.AddConstraint(
            model_name="stockmovement",
            constraint=models.UniqueConstraint(fields=("item", "sent_id"), name="delivery_form_books_once"),
        ),
    ]
