"""What came off a unit and is kept for the customer, thrown away with consent, or sent in for warranty."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0081_ways_of_an_estimate"),
    ]

    operations = [
        migrations.CreateModel(
            name="OldPart",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("words", models.CharField(max_length=120)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("kept", "Kept for the customer"),
                            ("given", "Given to the customer"),
                            ("thrown_away", "Thrown away"),
                            ("sent_in", "Sent in for warranty"),
                            ("replaced", "Replaced under warranty"),
                            ("refused", "Warranty refused"),
                        ],
                        default="kept",
                        max_length=12,
                    ),
                ),
                (
                    "note",
                    models.CharField(
                        blank=True, help_text="Who agreed that it goes, or where it was sent.", max_length=120
                    ),
                ),
                ("at", models.DateTimeField(help_text="Since when it is so.")),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "ticket",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="old_parts", to="workshop.ticket"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("state__in", ["kept", "sent_in", "refused"])),
                        fields=["at"],
                        name="old_parts_here",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("words", ""), _negated=True), name="old_part_is_named"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("state__in", ["kept", "given", "thrown_away", "sent_in", "replaced", "refused"])
                        ),
                        name="old_part_state_is_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state__in", ["thrown_away", "sent_in"]), _negated=True),
                            models.Q(("note", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="old_part_goes_on_somebodys_word",
                        violation_error_message="Say who agreed that it goes, or where it was sent.",
                    ),
                ],
            },
        ),
    ]
