from __future__ import annotations

from typing import Any

from django.db import migrations
from django.db.models import Max


def join_runs(apps: Any, schema_editor: Any) -> None:
    """The runs of one ticket are one job, and a run ended at the latest when its ticket was ready."""
    run_model, ticket_run = apps.get_model("diagnosis", "Run"), apps.get_model("workshop", "TicketRun")
    jobs: dict[int, Any] = {}
    for ticket, run, job in ticket_run.objects.order_by("pk").values_list("ticket", "run", "run__job").iterator():
        if jobs.setdefault(ticket, job) != job:
            run_model.objects.filter(pk=run).update(job=jobs[ticket])
    done = ticket_run.objects.filter(ticket__state__in=["ready", "handed_back"], run__ended_at=None)
    ready = dict(
        apps.get_model("workshop", "StateMove")
        .objects.filter(to_state="ready", ticket__in=done.values("ticket"))
        .values_list("ticket")
        .annotate(Max("at"))
    )
    for ticket, run in list(done.values_list("ticket", "run")):
        if ticket in ready:  # one that was called off has none
            run_model.objects.filter(pk=run).update(ended_at=ready[ticket])


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0005_runs_of_one_job"), ("workshop", "0012_search_index")]

    operations = [migrations.RunPython(join_runs, migrations.RunPython.noop, elidable=True)]
