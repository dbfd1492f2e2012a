import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("diagnosis", "0021_who_wrote_a_version"),
        ("workshop", "0038_kinds_of_unit"),
    ]

    operations = [
        migrations.CreateModel(
            name="ChecklistSignature",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("wording", models.PositiveIntegerField()),
                ("words", models.JSONField(default=dict)),
                ("signed_at", models.DateTimeField()),
                ("as_author", models.BooleanField(default=False)),
                ("taken_back_at", models.DateTimeField(blank=True, null=True)),
                ("taken_back_why", models.CharField(blank=True, max_length=400)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "checklist",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="diagnosis.checklist"
                    ),
                ),
                (
                    "shop",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="checklist_signatures",
                        to="workshop.shop",
                    ),
                ),
                (
                    "taken_back_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("taken_back_at__isnull", True)),
                        fields=("shop", "checklist", "wording", "by"),
                        name="a_version_signed_once_by_each",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("taken_back_at__isnull", True), ("taken_back_by__isnull", True), ("taken_back_why", "")
                            ),
                            models.Q(
                                ("taken_back_at__isnull", False),
                                ("taken_back_by__isnull", False),
                                models.Q(("taken_back_why", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="signature_taken_back_by_whom_and_why",
                    ),
                ],
            },
        ),
    ]
