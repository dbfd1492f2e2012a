"""A version that a file brought in says when it was taken back, and by whom."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("specs", "0077_copied_values"),
    ]

    operations = [
        migrations.AddField(
            model_name="specvalue",
            name="taken_back_at",
            field=models.DateTimeField(
                blank=True, help_text="When the file that brought this version in was taken back.", null=True
            ),
        ),
        migrations.AddField(
            model_name="specvalue",
            name="taken_back_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddConstraint(
            model_name="specvalue",
            constraint=models.CheckConstraint(
                condition=Q(taken_back_at__isnull=True) | Q(is_current=False, checked_at__isnull=True),
                name="spec_value_taken_back_is_not_current",
            ),
        ),
    ]
