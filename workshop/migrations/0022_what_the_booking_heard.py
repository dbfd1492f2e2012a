"""What was heard at booking about the earliest honest day; tickets from before heard nothing that was kept."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workshop", "0021_one_open_ticket_of_a_unit")]

    operations = [
        migrations.CreateModel(
            name="PromiseHeard",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("earliest_on", models.DateField()),
                (
                    "reasons",
                    models.JSONField(blank=True, default=list, help_text="Sentences, as the booking showed them."),
                ),
                ("at", models.DateTimeField()),
                (
                    "ticket",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="promise_heard",
                        to="workshop.ticket",
                    ),
                ),
            ],
        ),
    ]
