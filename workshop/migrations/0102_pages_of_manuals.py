"""A shop keeps pages of makers' manuals beside the values of a model."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("specs", "0077_copied_values"),
        ("workshop", "0087_lines_under_warranty"),
    ]

    operations = [
        migrations.CreateModel(
            name="ManualPage",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("document", models.CharField(max_length=160)),
                ("revision", models.CharField(blank=True, max_length=40)),
                ("page", models.CharField(blank=True, max_length=40)),
                ("file", models.FileField(max_length=160, upload_to="")),
                ("kind", models.CharField(choices=[("pdf", "PDF"), ("jpg", "Picture")], max_length=3)),
                ("pages", models.PositiveSmallIntegerField(default=1)),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "model",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="specs.suspensionmodel"
                    ),
                ),
                (
                    "shop",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="manual_pages", to="workshop.shop"
                    ),
                ),
            ],
            options={
                "ordering": ["document", "revision", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("shop", "model", "file"),
                        name="manual_page_attached_once",
                        violation_error_message="This very file is attached to the model already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("document", ""), _negated=True), models.Q(("file", ""), _negated=True)
                        ),
                        name="manual_page_says_what_it_is_of",
                        violation_error_message="Name the manual that the page is of.",
                    ),
                    models.CheckConstraint(condition=models.Q(("pages__gte", 1)), name="manual_page_has_a_page"),
                ],
            },
        ),
    ]
