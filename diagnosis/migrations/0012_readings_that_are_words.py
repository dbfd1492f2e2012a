"""A reading may be a word, such as yes or no: it has no magnitude."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0011_readings_judged")]

    operations = [
        migrations.AlterField(
            model_name="reading", name="magnitude_si", field=models.FloatField(blank=True, null=True)
        ),
    ]
