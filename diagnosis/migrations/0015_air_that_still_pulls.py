"""Air that was let out, and the unit still pulls itself down: an answer of its own."""

from django.db import migrations, models

OUTCOMES = [
    "ruled_out",
    "found",
    "cant_tell",
    "done",
    "left_out",
    "still_pulling",
    "proved",
    "not_proved",
    "left_early",
    "taken_back",
]


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0014_waits_left_early")]

    operations = [
        migrations.RemoveConstraint(model_name="tick", name="tick_outcome_is_known"),
        migrations.AlterField(
            model_name="tick",
            name="outcome",
            field=models.CharField(
                choices=[
                    ("ruled_out", "Ruled out"),
                    ("found", "Found"),
                    ("cant_tell", "Can't tell"),
                    ("done", "Done"),
                    ("left_out", "Left out"),
                    ("still_pulling", "Still pulling: stop"),
                    ("proved", "Proved"),
                    ("not_proved", "Not proved"),
                    ("left_early", "Wait left early"),
                    ("taken_back", "Taken back"),
                ],
                max_length=16,
            ),
        ),
        migrations.AddConstraint(
            model_name="tick",
            constraint=models.CheckConstraint(condition=models.Q(outcome__in=OUTCOMES), name="tick_outcome_is_known"),
        ),
    ]
