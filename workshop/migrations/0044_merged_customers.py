"""Two records of one person can be merged into one; the merged one is kept. None is yet."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0043_removed_photos_and_marks"),
    ]

    operations = [
        migrations.AddField(
            model_name="customer",
            name="merged_at",
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name="customer",
            name="merged_because",
            field=models.CharField(blank=True, editable=False, max_length=200),
        ),
        migrations.AddField(
            model_name="customer",
            name="merged_by",
            field=models.ForeignKey(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="customer",
            name="merged_into",
            field=models.ForeignKey(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="workshop.customer",
            ),
        ),
        migrations.AddConstraint(
            model_name="customer",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("merged_at__isnull", True), ("merged_into__isnull", True)),
                    models.Q(
                        ("merged_at__isnull", False),
                        ("merged_into__isnull", False),
                        models.Q(("merged_into", models.F("id")), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="merged_customer_says_when",
            ),
        ),
    ]
