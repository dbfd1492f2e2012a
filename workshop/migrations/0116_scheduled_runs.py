"""When what runs by a timer ran, and how it ended."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0115_suspended_and_closed_shops"),
    ]

    operations = [
        migrations.CreateModel(
            name="ScheduledRun",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "what",
                    models.CharField(
                        help_text="As `Scheduled` in workshop/running/scheduled.py names it.", max_length=20
                    ),
                ),
                ("machine", models.CharField(max_length=120)),
                ("began_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                ("went_well", models.BooleanField(default=False)),
                ("outcome", models.TextField(blank=True, help_text="In words, for whoever runs the machine.")),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
    ]
