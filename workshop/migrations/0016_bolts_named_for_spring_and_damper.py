"""Words only: a leg is called by its spring or its damper, which a coil fork has too."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0015_lists_that_grow"),
    ]

    operations = [
        migrations.AlterField(
            model_name="boltrecord",
            name="bolt",
            field=models.CharField(
                choices=[
                    ("foot_air_leg", "Foot fastener, spring side"),
                    ("foot_damper_leg", "Foot fastener, damper side"),
                    ("axle", "Axle"),
                    ("caliper", "Caliper bolts"),
                    ("stem", "Stem bolts"),
                ],
                max_length=20,
            ),
        ),
    ]
