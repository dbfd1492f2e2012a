from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0058_how_to_reach_a_customer"),
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
                    ("upper_crown", "Upper crown, clamps of the legs"),
                    ("lower_crown", "Lower crown, clamps of the legs"),
                    ("steerer_clamp", "Crown, clamp of the steerer"),
                ],
                max_length=20,
            ),
        ),
    ]
