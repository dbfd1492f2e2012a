"""Rules that the functions held and the database did not: what old rows become is said in RULES, what they were is kept."""

import uuid
from typing import Any

from django.conf import settings
from django.db import migrations, models
from django.db.models import Q

from specs.migrations._mending import Rule, nearest, next_number, outside, repeats, set_right

OUTCOMES = ("ruled_out", "found", "cant_tell", "done", "left_out", "proved", "not_proved", "taken_back")
RULES = (
    Rule(
        "checklist_numbered_from_one",
        "diagnosis.Checklist",
        outside(Q(number__gte=1)),
        next_number("number", "key"),
    ),
    Rule(  # it is offered as before
        "retired_complaint_says_when",
        "diagnosis.Complaint",
        outside(Q(retired_by__isnull=True) | Q(retired_at__isnull=False)),
        lambda row: {"retired_by_id": None},
    ),
    Rule(  # the later one stays as it is, as a job of its own
        "checklist_once_in_a_job",
        "diagnosis.Run",
        repeats("job", "checklist", among=Q()),
        lambda row: {"job": uuid.uuid4()},
    ),
    Rule("run_version_from_one", "diagnosis.Run", outside(Q(version__gte=1)), nearest("version", 1)),
    Rule(
        "one_running_timer_of_a_step",
        "diagnosis.StepTimer",
        repeats("run", "step", among=Q(stopped_at__isnull=True)),
        lambda row: {"stopped_at": row.started_at},
    ),
    Rule("timer_runs_some_time", "diagnosis.StepTimer", outside(Q(seconds__gt=0)), nearest("seconds", 1)),
    Rule(  # the step is open again
        "tick_outcome_is_known",
        "diagnosis.Tick",
        outside(Q(outcome__in=OUTCOMES)),
        lambda row: {"outcome": "taken_back"},
    ),
    Rule(
        "only_a_finding_names_a_cause",
        "diagnosis.Tick",
        outside(Q(cause__isnull=True) | Q(outcome="found")),
        lambda row: {"cause_id": None},
    ),
)


def mend(apps: Any, schema_editor: Any) -> None:
    set_right(apps, schema_editor, RULES)


class Migration(migrations.Migration):
    dependencies = [
        ("specs", "0005_rules_of_values_and_parts"),
        ("diagnosis", "0006_what_steps_require_open_and_leave"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RunPython(mend, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="checklist",
            constraint=models.CheckConstraint(
                condition=models.Q(("number__gte", 1)), name="checklist_numbered_from_one"
            ),
        ),
        migrations.AddConstraint(
            model_name="complaint",
            constraint=models.CheckConstraint(
                condition=models.Q(("retired_by__isnull", True), ("retired_at__isnull", False), _connector="OR"),
                name="retired_complaint_says_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="run",
            constraint=models.UniqueConstraint(fields=("job", "checklist"), name="checklist_once_in_a_job"),
        ),
        migrations.AddConstraint(
            model_name="run",
            constraint=models.CheckConstraint(condition=models.Q(("version__gte", 1)), name="run_version_from_one"),
        ),
        migrations.AddConstraint(
            model_name="steptimer",
            constraint=models.UniqueConstraint(
                condition=models.Q(("stopped_at__isnull", True)),
                fields=("run", "step"),
                name="one_running_timer_of_a_step",
            ),
        ),
        migrations.AddConstraint(
            model_name="steptimer",
            constraint=models.CheckConstraint(condition=models.Q(("seconds__gt", 0)), name="timer_runs_some_time"),
        ),
        migrations.AddConstraint(
            model_name="tick",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "outcome__in",
                        ["ruled_out", "found", "cant_tell", "done", "left_out", "proved", "not_proved", "taken_back"],
                    )
                ),
                name="tick_outcome_is_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="tick",
            constraint=models.CheckConstraint(
                condition=models.Q(("cause__isnull", True), ("outcome", "found"), _connector="OR"),
                name="only_a_finding_names_a_cause",
            ),
        ),
    ]
