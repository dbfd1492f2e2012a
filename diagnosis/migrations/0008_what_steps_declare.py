"""What was known of steps by their keys becomes what the steps say themselves, in stored versions and in drafts.

The keys below are those of the checklists that shipped before; no other code knows a step by its key. A step of the
shop's own under another key says nothing until the owner has it say so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

CLOSED_BY = {
    "wheel-out": "refit-brake-wheel",
    "caliper-off": "refit-brake-wheel",
    "all-air-out": "fill-in-stages",
    "foot-fasteners-off": "foot-fasteners-on",
    "lowers-off": "lowers-on",
    "air-spring-out": "air-spring-in",
    "shock-out-of-frame": "shock-refit",
    "shock-all-air-out": "shock-fill-in-stages",
    "shock-can-off": "shock-can-on",
}
SERVICES: Mapping[str, tuple[frozenset[str], ...]] = {
    "lowers": (frozenset({"lowers-off", "oil-in-legs"}),),
    "spring": (
        frozenset({"air-spring-out", "grease-spring", "air-spring-in"}),
        frozenset({"shock-can-off", "shock-new-can-seals", "shock-can-on"}),
    ),
    "full": (frozenset({"rebuild-damper", "lowers-off", "oil-in-legs"}),),
}
NEVER = {"routine-lowers-service": ("spring", "full"), "shock-air-can-service": ("full",)}
RENEWS = {
    "oil-in-legs": "lower-oil",
    "grease-spring": "spring-grease",
    "rebuild-damper": "damper",
    "shock-new-can-seals": "spring-seals",
}
FREES_PORT = {"free-port-by-hand": "by_hand", "free-port-at-maximum": "at_maximum"}
SPRING_ANSWER = {
    "record-clicks", "pressure-and-cycle", "free-port-by-hand", "free-port-at-maximum", "all-air-out", "lowers-off",
}  # fmt: skip
MEASURES = {
    "rest_travel": ("rest_depth", "length"),
    "pump_pressure": ("arrival_pressure", "pressure"),
    "pressure_set": ("pressure_set", "pressure"),
    "pressure_recheck": ("pressure_after_wait", "pressure"),
    "sag": ("sag", "length"),
    "rebound_clicks": ("rebound_clicks", "clicks"),
    "compression_clicks": ("compression_clicks", "clicks"),
    "foot_torque_air_leg": ("foot_torque_air_leg", "torque"),
    "foot_torque_damper_leg": ("foot_torque_damper_leg", "torque"),
    "axle_torque": ("axle_torque", "torque"),
    "caliper_torque": ("caliper_torque", "torque"),
    "stem_torque": ("stem_torque", "torque"),
}
ENDS_LIFE = {
    "wiper-worn": "wipers",
    "dry-lowers": "lower-oil",
    "worn-piston-seal": "spring-seals",
    "seal-head-leak": "spring-seals",
    "top-cap-seal": "spring-seals",
    "can-outer-seal": "spring-seals",
    "can-piston-seal": "spring-seals",
    "port-blocked": "spring-grease",
    "shock-port-blocked": "spring-grease",
    "spring-grease-dry": "spring-grease",
    "bushing-worn": "bushings",
    "damper-oil-old": "damper",
    "damper-seal-leak": "damper",
    "damper-air": "damper",
    "bladder-burst": "damper",
}


def declared_by(checklist: str, keys: list[str], key: str, kind: str) -> dict[str, Any]:
    """What a step of that key says from now on, in a checklist with these steps in order; nothing at its default."""
    said: dict[str, Any] = {}
    if kind == "work":
        if (closing := CLOSED_BY.get(key, "")) in keys[keys.index(key) :]:
            said["closed_by"] = closing
        services = [
            level
            for level, ways in SERVICES.items()
            if level not in NEVER.get(checklist, ()) and any(key in way and way <= set(keys) for way in ways)
        ]
        if services:
            said["services"] = services
        if key in RENEWS:
            said["renews"] = [RENEWS[key]]
    if kind == "check" and key in FREES_PORT:
        said["frees_port"] = FREES_PORT[key]
    if key in SPRING_ANSWER:
        said["spring_answer"] = True
    return said


def measured(readings: Iterable[Mapping[str, Any]], *, also_nothing: bool) -> list[dict[str, Any]]:
    """The readings with what they are of; a record says so of each, a file only where there is something to say."""
    found = []
    for reading in readings:
        of, quantity = MEASURES.get(reading["key"], ("", ""))
        measures = of if quantity == reading.get("quantity") else ""
        found.append({**reading, **({"measures": measures} if measures or also_nothing else {})})
    return found


def draft_that_says(data: dict[str, Any]) -> dict[str, Any]:
    """A draft's data in the file layout, with what its steps and causes say."""
    keys = [step["key"] for step in data.get("steps", [])]
    steps = []
    for step in data.get("steps", []):
        said = declared_by(data["checklist"]["key"], keys, step["key"], step["kind"])
        readings = measured(step.get("readings", []), also_nothing=False)
        steps.append({**said, **step, **({"readings": readings} if readings else {})})
    causes = [
        {**({"ends_life": [ENDS_LIFE[cause["key"]]]} if cause["key"] in ENDS_LIFE else {}), **cause}
        for cause in data.get("causes", [])
    ]
    return {**data, "steps": steps, "causes": causes}


def let_them_say(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    alias = schema_editor.connection.alias
    checklist_model, step_model, cause_model, draft_model = (
        apps.get_model("diagnosis", name) for name in ("Checklist", "Step", "Cause", "ChecklistDraft")
    )
    fields = ["closed_by", "services", "renews", "frees_port", "spring_answer", "readings"]
    for pk, checklist in list(checklist_model.objects.using(alias).order_by("pk").values_list("pk", "key")):
        steps = list(step_model.objects.using(alias).filter(checklist_id=pk).order_by("position"))
        keys = [step.key for step in steps]
        for step in steps:
            for name, value in declared_by(checklist, keys, step.key, step.kind).items():
                setattr(step, name, value)
            step.readings = measured(step.readings, also_nothing=True)
        step_model.objects.using(alias).bulk_update(steps, fields, batch_size=50)
    for cause in cause_model.objects.using(alias).filter(key__in=list(ENDS_LIFE)):
        cause.ends_life = [ENDS_LIFE[cause.key]]
        cause.save(update_fields=["ends_life"], using=alias)
    for draft in draft_model.objects.using(alias).all():
        draft_model.objects.using(alias).filter(pk=draft.pk).update(data=draft_that_says(draft.data))


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0007_rules_of_runs_and_timers")]

    operations = [
        migrations.AddField(
            model_name="cause",
            name="ends_life",
            field=models.JSONField(
                blank=True, default=list, help_text="Parts that are worn out where this is the cause."
            ),
        ),
        migrations.AddField(
            model_name="step",
            name="closed_by",
            field=models.SlugField(
                blank=True,
                db_index=False,
                default="",
                help_text="The step that puts together again what this one took apart.",
                max_length=60,
            ),
        ),
        migrations.AddField(
            model_name="step",
            name="services",
            field=models.JSONField(blank=True, default=list, help_text="Services that it is part of."),
        ),
        migrations.AddField(
            model_name="step",
            name="renews",
            field=models.JSONField(blank=True, default=list, help_text="Parts that are new after it."),
        ),
        migrations.AddField(
            model_name="step",
            name="frees_port",
            field=models.CharField(
                blank=True, default="", help_text="How it tries to free the port of an air spring.", max_length=20
            ),
        ),
        migrations.AddField(
            model_name="step",
            name="spring_answer",
            field=models.BooleanField(default=False, help_text="The whole answer of the air spring stands here."),
        ),
        migrations.RunPython(let_them_say, migrations.RunPython.noop),
    ]
