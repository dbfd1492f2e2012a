from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workshop", "0036_leverage_of_a_bike")]

    operations = [
        *(
            migrations.AddField(
                "suspensionunit",
                name,
                models.CharField(blank=True, choices=choices, default="", max_length=longest),
                preserve_default=False,
            )
            for name, choices, longest in (
                ("crowns", [("single", "single crown"), ("twin", "twin crown")], 10),
                ("inverted", [("True", "yes"), ("False", "no")], 5),
                ("ramp_chamber", [("True", "yes"), ("False", "no")], 5),
            )
        ),
        migrations.AlterField(
            "boltrecord",
            "bolt",
            models.CharField(
                choices=[
                    ("foot_air_leg", "Foot fastener, spring side"),
                    ("foot_damper_leg", "Foot fastener, damper side"),
                    ("axle", "Axle"),
                    ("caliper", "Caliper bolts"),
                    ("stem", "Stem bolts"),
                    ("upper_crown", "Upper crown, clamps of the legs"),
                    ("lower_crown", "Lower crown, clamps of the legs"),
                ],
                max_length=20,
            ),
        ),
        migrations.AlterField(
            "suspensionunit",
            "spring_kind",
            models.CharField(
                blank=True,
                choices=[("air", "air"), ("coil", "coil"), ("air_coil", "coil with air assist")],
                max_length=10,
            ),
        ),
    ]
