from django.db import migrations, models

_OUTCOMES = ["ruled_out", "found", "cant_tell", "done", "left_out", "proved", "not_proved", "left_early", "taken_back"]


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0013_how_a_step_loads_the_bike")]

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
                    ("proved", "Proved"),
                    ("not_proved", "Not proved"),
                    ("left_early", "Wait left early"),
                    ("taken_back", "Taken back"),
                ],
                max_length=12,
            ),
        ),
        migrations.AddConstraint(
            model_name="tick",
            constraint=models.CheckConstraint(
                condition=models.Q(("outcome__in", _OUTCOMES)), name="tick_outcome_is_known"
            ),
        ),
    ]
