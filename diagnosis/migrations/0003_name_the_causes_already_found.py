from __future__ import annotations

from typing import Any

from django.db import migrations


def name_causes(apps: Any, schema_editor: Any) -> None:
    """Give findings made before the cause was kept the cause that their step names."""
    tick_model, cause_model = apps.get_model("diagnosis", "Tick"), apps.get_model("diagnosis", "Cause")
    causes = dict(cause_model.objects.values_list("key", "pk"))
    found = tick_model.objects.filter(outcome="found", cause=None).select_related("step")
    for tick in found.iterator():
        able = [key for key, chance in tick.step.ends_search.items() if chance > 0]
        named = (tick.step.answers.get("found") or {}).get("cause") or (able[0] if len(able) == 1 else None)
        if able and named in causes:
            tick_model.objects.filter(pk=tick.pk).update(cause_id=causes[named])


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0002_cause_of_a_finding_and_corrected_minutes")]

    operations = [migrations.RunPython(name_causes, migrations.RunPython.noop, elidable=True)]
