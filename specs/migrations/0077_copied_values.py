"""A value says which sister model it was copied from."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import F, Q


class Migration(migrations.Migration):
    dependencies = [("specs", "0076_other_numbers_of_parts")]

    operations = [
        migrations.AddField(
            model_name="specvalue",
            name="copied_from",
            field=models.ForeignKey(
                blank=True,
                help_text="The sister model that this version was copied from, with its source.",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="specs.suspensionmodel",
            ),
        ),
        migrations.AddConstraint(
            model_name="specvalue",
            constraint=models.CheckConstraint(
                condition=Q(copied_from__isnull=True) | ~Q(copied_from=F("model")),
                name="spec_value_copied_from_another_model",
            ),
        ),
    ]
