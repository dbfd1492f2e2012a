"""Where customers reach the shop from outside."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workshop", "0024_prices_traced_and_deliveries_once")]

    operations = [
        migrations.AddField(
            model_name="shop",
            name="public_address",
            field=models.CharField(blank=True, default="", max_length=200),
        ),
    ]
