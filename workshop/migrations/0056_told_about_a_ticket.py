"""What was said about a ticket, how the shop tells that something is ready, and when the counter is open."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0050_hand_overs_payments_and_receipts"),
    ]

    operations = [
        migrations.CreateModel(
            name="Contact",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("note", "Note"),
                            ("call", "Call"),
                            ("ready_email", "Ready, by email"),
                            ("ready_text", "Ready, by text message"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "outcome",
                    models.CharField(
                        blank=True,
                        choices=[("reached", "reached"), ("no_answer", "no answer"), ("message_left", "message left")],
                        max_length=12,
                    ),
                ),
                (
                    "words",
                    models.TextField(
                        blank=True, help_text="What was noted or said; of a message its text as it was told."
                    ),
                ),
                ("ready_since", models.DateTimeField(blank=True, null=True)),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="OpeningHours",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("weekday", models.PositiveSmallIntegerField()),
                ("opens", models.TimeField()),
                ("closes", models.TimeField()),
            ],
            options={
                "ordering": ["weekday", "opens"],
            },
        ),
        migrations.CreateModel(
            name="ReadyText",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("subject", models.CharField(max_length=150)),
                ("body", models.TextField()),
                ("text", models.TextField(help_text="The text message.")),
                ("unreached_days", models.PositiveSmallIntegerField(default=3)),
                ("version", models.PositiveIntegerField(default=1)),
            ],
        ),
        migrations.AddField(
            model_name="message",
            name="kind",
            field=models.CharField(
                choices=[("reminder", "Reminder"), ("ready", "It is ready")], default="reminder", max_length=10
            ),
        ),
        migrations.AlterField(
            model_name="message",
            name="due_on",
            field=models.DateField(blank=True, help_text="Of a reminder, the day its service is due.", null=True),
        ),
        migrations.AddConstraint(
            model_name="message",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("due_on__isnull", False), ("kind", "reminder")),
                    models.Q(("channel", "email"), ("due_on__isnull", True), ("kind", "ready")),
                    _connector="OR",
                ),
                name="message_kind_is_known_and_a_reminder_is_due",
            ),
        ),
        migrations.AddField(
            model_name="contact",
            name="by",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="contact",
            name="message",
            field=models.OneToOneField(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="contact",
                to="workshop.message",
            ),
        ),
        migrations.AddField(
            model_name="contact",
            name="ticket",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="contacts", to="workshop.ticket"
            ),
        ),
        migrations.AddField(
            model_name="openinghours",
            name="shop",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="opening_hours", to="workshop.shop"
            ),
        ),
        migrations.AddField(
            model_name="readytext",
            name="shop",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.CASCADE, related_name="ready_text", to="workshop.shop"
            ),
        ),
        migrations.AddConstraint(
            model_name="contact",
            constraint=models.CheckConstraint(
                condition=models.Q(("kind__in", ["note", "call", "ready_email", "ready_text"])),
                name="contact_kind_is_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="contact",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "call"), ("outcome__in", ["reached", "no_answer", "message_left"])),
                    models.Q(models.Q(("kind", "call"), _negated=True), ("outcome", "")),
                    _connector="OR",
                ),
                name="a_call_says_how_it_ended",
                violation_error_message="Say how the call ended: reached, no answer, or message left.",
            ),
        ),
        migrations.AddConstraint(
            model_name="contact",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "note"), _negated=True), models.Q(("words", ""), _negated=True), _connector="OR"
                ),
                name="a_note_has_words",
                violation_error_message="Write down what is to be noted.",
            ),
        ),
        migrations.AddConstraint(
            model_name="contact",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind__in", ["ready_email", "ready_text"]), ("ready_since__isnull", False)),
                    models.Q(("kind__in", ["note", "call"]), ("ready_since__isnull", True)),
                    _connector="OR",
                ),
                name="told_ready_says_since_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="contact",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "ready_email"), ("message__isnull", False)),
                    models.Q(models.Q(("kind", "ready_email"), _negated=True), ("message__isnull", True)),
                    _connector="OR",
                ),
                name="told_by_email_has_its_message",
            ),
        ),
        migrations.AddConstraint(
            model_name="contact",
            constraint=models.UniqueConstraint(
                condition=models.Q(("kind", "ready_email")),
                fields=("ticket", "ready_since"),
                name="told_ready_by_email_once",
            ),
        ),
        migrations.AddConstraint(
            model_name="openinghours",
            constraint=models.UniqueConstraint(fields=("shop", "weekday", "opens"), name="opens_once_at_a_time"),
        ),
        migrations.AddConstraint(
            model_name="openinghours",
            constraint=models.CheckConstraint(condition=models.Q(("weekday__lte", 6)), name="opening_weekday_is_known"),
        ),
        migrations.AddConstraint(
            model_name="readytext",
            constraint=models.CheckConstraint(
                condition=models.Q(("unreached_days__gte", 1), ("unreached_days__lte", 60)),
                name="unreached_from_one_to_sixty_days",
                violation_error_message="Enter days from 1 to 60.",
            ),
        ),
    ]
