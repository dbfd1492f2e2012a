"""What is done about who may enter and what leaves the shop is written down, each row tied to the one before."""

import django.core.serializers.json
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0107_sessions_listed"),
    ]

    operations = [
        migrations.CreateModel(
            name="SecurityEvent",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField(help_text="Of this shop, from 1 without a gap.")),
                ("at", models.DateTimeField()),
                ("kind", models.CharField(max_length=40)),
                (
                    "by_name",
                    models.CharField(blank=True, help_text="The sign-in name at that time.", max_length=150),
                ),
                ("address", models.CharField(blank=True, max_length=64)),
                ("browser", models.CharField(blank=True, max_length=80)),
                (
                    "values",
                    models.JSONField(default=dict, encoder=django.core.serializers.json.DjangoJSONEncoder),
                ),
                (
                    "before",
                    models.CharField(
                        blank=True, help_text="The digest of the row before; empty in the first.", max_length=64
                    ),
                ),
                (
                    "digest",
                    models.CharField(help_text="SHA-256 of the row before and of this row.", max_length=64),
                ),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "shop",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="security_events",
                        to="workshop.shop",
                    ),
                ),
            ],
            options={
                "ordering": ["-number"],
                "constraints": [
                    models.UniqueConstraint(fields=("shop", "number"), name="security_event_numbered_once")
                ],
            },
        ),
    ]
