from __future__ import annotations

import uuid
from typing import Any

import django.db.models.deletion
from django.db import migrations, models


def give_each_run_a_job(apps: Any, schema_editor: Any) -> None:
    """Each run its own; which runs belong together is known to whoever began them."""
    run_model = apps.get_model("diagnosis", "Run")
    for pk in run_model.objects.filter(job=None).values_list("pk", flat=True).iterator():
        run_model.objects.filter(pk=pk).update(job=uuid.uuid4())


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0004_drafts_and_the_shops_own_versions")]

    operations = [
        migrations.AddField(
            model_name="run",
            name="job",
            field=models.UUIDField(editable=False, null=True),
        ),
        migrations.RunPython(give_each_run_a_job, migrations.RunPython.noop, elidable=True),
        migrations.AlterField(
            model_name="run",
            name="job",
            field=models.UUIDField(
                db_index=True,
                default=uuid.uuid4,
                editable=False,
                help_text="Runs worked side by side on one unit share it.",
            ),
        ),
        migrations.AlterField(
            model_name="run",
            name="ended_at",
            field=models.DateTimeField(
                blank=True,
                help_text="When nothing was left to do or prove in it; empty as long as there is.",
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="tick",
            name="counted_from",
            field=models.ForeignKey(
                blank=True,
                help_text="The tick in another run of the same job that this one follows from.",
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="counted_in",
                to="diagnosis.tick",
            ),
        ),
    ]
