"""Rules that the functions held and the database did not: what old rows become is said in RULES, what they were is kept."""

from typing import Any

from django.conf import settings
from django.db import migrations, models
from django.db.models import Q

from specs.migrations._mending import Rule, below_zero, emptied, next_number, not_above_zero, outside, set_right

MEASURES = ("inside_mm", "section_mm", "stanchion_mm")
VISCOSITIES = ("kv40_mm2_s", "kv100_mm2_s")


def above_zero(*fields: str) -> Q:
    allowed = Q()
    for field in fields:
        allowed &= Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__gt": 0})
    return allowed


RULES = (
    Rule(
        "oil_viscosities_above_zero",
        "specs.Oil",
        outside(above_zero(*VISCOSITIES)),
        emptied(*VISCOSITIES, where=not_above_zero),
    ),
    Rule(
        "part_measures_above_zero",
        "specs.Part",
        outside(above_zero(*MEASURES)),
        emptied(*MEASURES, where=not_above_zero),
    ),
    Rule(  # half a check is none
        "checked_value_says_who_and_when",
        "specs.SpecValue",
        outside(
            Q(checked_by__isnull=True, checked_at__isnull=True) | Q(checked_by__isnull=False, checked_at__isnull=False)
        ),
        lambda row: {"checked_by_id": None, "checked_at": None},
    ),
    Rule(
        "spec_value_tolerance_not_negative",
        "specs.SpecValue",
        outside(Q(tolerance_si__isnull=True) | Q(tolerance_si__gte=0)),
        emptied("tolerance_si", where=below_zero),
    ),
    Rule(
        "spec_value_numbered_from_one",
        "specs.SpecValue",
        outside(Q(number__gte=1)),
        next_number("number", "model_id", "quantity", "travel_mm"),
    ),
)


def mend(apps: Any, schema_editor: Any) -> None:
    set_right(apps, schema_editor, RULES)


class Migration(migrations.Migration):
    dependencies = [
        ("specs", "0004_legs_named_for_spring_and_damper"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="MendedValue",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("rule", models.CharField(help_text="Name of the constraint.", max_length=60)),
                ("table", models.CharField(help_text="App and model of the row.", max_length=60)),
                ("row", models.BigIntegerField(help_text="Primary key of the row.")),
                ("field", models.CharField(max_length=60)),
                ("was", models.TextField()),
                ("became", models.TextField()),
                ("at", models.DateTimeField(auto_now_add=True)),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.RunPython(mend, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="oil",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kv40_mm2_s__isnull", True), ("kv40_mm2_s__gt", 0), _connector="OR"),
                    models.Q(("kv100_mm2_s__isnull", True), ("kv100_mm2_s__gt", 0), _connector="OR"),
                ),
                name="oil_viscosities_above_zero",
                violation_error_message="A viscosity is above zero.",
            ),
        ),
        migrations.AddConstraint(
            model_name="part",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("inside_mm__isnull", True), ("inside_mm__gt", 0), _connector="OR"),
                    models.Q(("section_mm__isnull", True), ("section_mm__gt", 0), _connector="OR"),
                    models.Q(("stanchion_mm__isnull", True), ("stanchion_mm__gt", 0), _connector="OR"),
                ),
                name="part_measures_above_zero",
                violation_error_message="A measure of a part is above zero.",
            ),
        ),
        migrations.AddConstraint(
            model_name="specvalue",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("checked_at__isnull", True), ("checked_by__isnull", True)),
                    models.Q(("checked_at__isnull", False), ("checked_by__isnull", False)),
                    _connector="OR",
                ),
                name="checked_value_says_who_and_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="specvalue",
            constraint=models.CheckConstraint(
                condition=models.Q(("tolerance_si__isnull", True), ("tolerance_si__gte", 0), _connector="OR"),
                name="spec_value_tolerance_not_negative",
                violation_error_message="A tolerance is plus or minus: enter it without a sign.",
            ),
        ),
        migrations.AddConstraint(
            model_name="specvalue",
            constraint=models.CheckConstraint(
                condition=models.Q(("number__gte", 1)), name="spec_value_numbered_from_one"
            ),
        ),
    ]
