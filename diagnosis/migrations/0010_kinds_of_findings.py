from __future__ import annotations

from typing import Any

from django.db import migrations, models


def name_the_kinds(apps: Any, schema_editor: Any) -> None:
    """What was found before kinds were kept ended the search wherever its step could find a cause."""
    tick_model, step_model = apps.get_model("diagnosis", "Tick"), apps.get_model("diagnosis", "Step")
    able = [
        pk
        for pk, kind, chances in step_model.objects.values_list("pk", "kind", "ends_search")
        if kind == "check" and any(chance > 0 for chance in (chances or {}).values())
    ]
    found = tick_model.objects.filter(outcome="found", finding="")
    for start in range(0, len(able), 500):
        found.filter(step__in=able[start : start + 500]).update(finding="cause")
    # What names a cause at a step that could not find one would be two things at once: it stays as it was.
    found.filter(cause=None).update(finding="by_the_way")


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0008_what_steps_declare")]

    operations = [
        migrations.AddField(
            model_name="tick",
            name="finding",
            field=models.CharField(
                blank=True,
                choices=[
                    ("cause", "This is the cause"),
                    ("by_the_way", "By the way"),
                    ("danger", "Dangerous: do not ride"),
                ],
                default="",
                help_text="What kind of finding it is, if it is one.",
                max_length=12,
            ),
            preserve_default=False,
        ),
        migrations.AddConstraint(
            model_name="tick",
            constraint=models.CheckConstraint(
                condition=models.Q(finding="")
                | models.Q(finding__in=["cause", "by_the_way", "danger"], outcome="found"),
                name="only_what_was_found_is_a_finding",
            ),
        ),
        migrations.AddConstraint(
            model_name="tick",
            constraint=models.CheckConstraint(
                condition=models.Q(cause__isnull=True) | ~models.Q(finding="by_the_way"),
                name="by_the_way_is_not_the_cause",
            ),
        ),
        migrations.RunPython(name_the_kinds, migrations.RunPython.noop, elidable=True),
    ]
