"""Labels with the apostrophe that all other texts have. Nothing stored changes."""

from django.db import migrations, models

OUTCOMES = [
    ("ruled_out", "Ruled out"),
    ("found", "Found"),
    ("cant_tell", "Can’t tell"),
    ("done", "Done"),
    ("left_out", "Left out"),
    ("still_pulling", "Still pulling: stop"),
    ("proved", "Proved"),
    ("not_proved", "Not proved"),
    ("left_early", "Wait left early"),
    ("taken_back", "Taken back"),
]


class Migration(migrations.Migration):
    contracts = "Nothing: labels and help texts alone, which no table holds"
    dependencies = [("diagnosis", "0021_who_wrote_a_version")]

    operations = [
        migrations.AlterField(
            model_name="checklist",
            name="origin",
            field=models.CharField(
                choices=[("shipped", "As shipped"), ("shop", "The shop’s own")], default="shipped", max_length=10
            ),
        ),
        migrations.AlterField(
            model_name="run",
            name="facts",
            field=models.JSONField(default=dict, help_text="The unit’s facts when the run began."),
        ),
        migrations.AlterField(
            model_name="run",
            name="said",
            field=models.PositiveIntegerField(default=0, help_text="How often something was told of the job’s unit."),
        ),
        migrations.AlterField(
            model_name="tick",
            name="outcome",
            field=models.CharField(choices=OUTCOMES, max_length=16),
        ),
        migrations.AlterField(
            model_name="tick",
            name="ticked_at",
            field=models.DateTimeField(help_text="When it was ticked, by the tablet’s clock if it was cut off."),
        ),
    ]
