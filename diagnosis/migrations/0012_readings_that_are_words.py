"""A reading may be a word, such as yes or no: it has no magnitude."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0006_what_steps_require_open_and_leave")]

    operations = [
        migrations.AlterField(
            model_name="reading", name="magnitude_si", field=models.FloatField(blank=True, null=True)
        ),
    ]
