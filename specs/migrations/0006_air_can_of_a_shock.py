"""Words only: how wide the damper body is that an air can slides over."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("specs", "0005_rules_of_values_and_parts"),
    ]

    operations = [
        migrations.AlterField(
            model_name="specvalue",
            name="quantity",
            field=models.CharField(
                choices=[
                    ("max_pressure", "Maximum pressure"),
                    ("oil_volume_air_leg", "Lower-leg oil, spring side"),
                    ("oil_volume_damper_leg", "Lower-leg oil, damper side"),
                    ("lower_leg_oil", "Lower-leg oil"),
                    ("damper_oil", "Damper oil"),
                    ("spring_grease", "Spring grease"),
                    ("foot_torque_air_leg", "Foot fastener, spring side"),
                    ("foot_torque_damper_leg", "Foot fastener, damper side"),
                    ("top_cap_torque_air_leg", "Top cap, spring side"),
                    ("top_cap_torque_damper_leg", "Top cap, damper side"),
                    ("axle_torque", "Axle"),
                    ("caliper_torque", "Caliper bolts"),
                    ("stem_torque", "Stem bolts"),
                    ("piston_bore", "Air piston bore"),
                    ("air_shaft", "Air shaft diameter"),
                    ("damper_shaft", "Damper shaft diameter"),
                    ("damper_body", "Damper body inside the air can"),
                    ("stanchion", "Stanchion diameter"),
                    ("positive_volume", "Positive chamber volume, extended"),
                    ("negative_volume", "Negative chamber volume, extended"),
                    ("lower_leg_volume", "Lower-leg air volume, extended"),
                    ("port_travel", "Transfer port, travel from extended"),
                    ("seal_friction", "Friction of the seals"),
                    ("sag_low", "Sag, from"),
                    ("sag_high", "Sag, to"),
                    ("rebound_clicks", "Rebound range"),
                    ("compression_clicks", "Compression range"),
                    ("wiper_size", "Wiper"),
                    ("foam_ring_size", "Foam ring"),
                    ("lowers_interval_hours", "Lowers service, ride hours"),
                    ("lowers_interval_months", "Lowers service, months"),
                    ("spring_interval_hours", "Spring service, ride hours"),
                    ("spring_interval_months", "Spring service, months"),
                    ("full_interval_hours", "Full service, ride hours"),
                    ("full_interval_months", "Full service, months"),
                ],
                max_length=40,
            ),
        ),
    ]
