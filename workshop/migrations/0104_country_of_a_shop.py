"""A shop says which country it is in; until now only the country of its public holidays was known."""

from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def take_over(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    capacities = apps.get_model("workshop", "BenchCapacity").objects.exclude(holiday_country="")
    for shop_id, country in capacities.values_list("shop_id", "holiday_country"):
        apps.get_model("workshop", "Shop").objects.filter(pk=shop_id).update(country=country[:2])


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0103_rows_that_are_the_same"),
    ]

    operations = [
        migrations.AddField(
            model_name="shop",
            name="country",
            field=models.CharField(blank=True, default="", max_length=2),
        ),
        migrations.RunPython(take_over, migrations.RunPython.noop, elidable=True),
    ]
