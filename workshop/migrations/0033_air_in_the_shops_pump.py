"""The air that the shop's pump and hose take each time they are screwed on; unknown until somebody measures it."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("workshop", "0034_a_measured_fork")]

    operations = [
        migrations.AddField(
            model_name="shop",
            name="pump_hose_m3",
            field=models.FloatField(
                blank=True, help_text="Air that the pump and its hose take, in cubic metres.", null=True
            ),
        ),
        migrations.AddConstraint(
            model_name="shop",
            constraint=models.CheckConstraint(
                condition=Q(pump_hose_m3__isnull=True) | Q(pump_hose_m3__gte=0),
                name="pump_hose_not_negative",
                violation_error_message="A hose cannot take less air than none.",
            ),
        ),
    ]
