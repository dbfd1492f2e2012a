"""Indexes for what lists of tickets and needed parts are read by."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("diagnosis", "0005_runs_of_one_job"),
        ("specs", "0003_part_measures_and_bottles"),
        ("workshop", "0014_second_factor"),
    ]

    operations = [
        migrations.AddIndex(
            model_name="partline",
            index=models.Index(fields=["part", "status"], name="part_line_needed"),
        ),
        migrations.AddIndex(
            model_name="ticket",
            index=models.Index(fields=["shop", "state", "number"], name="ticket_list"),
        ),
    ]
