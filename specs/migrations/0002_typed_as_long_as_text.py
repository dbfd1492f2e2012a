"""A value may be typed as long as its text, and is empty in a version that withdraws it."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("specs", "0001_models_values_parts")]

    operations = [
        migrations.AlterField(
            model_name="specvalue",
            name="typed",
            field=models.CharField(
                blank=True,
                help_text="The value as it was typed, with its unit; empty when withdrawn.",
                max_length=120,
            ),
        ),
    ]
