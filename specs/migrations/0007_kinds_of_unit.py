"""Crowns, inverted forks, ramp-up chambers, reservoirs and remotes; facts that cannot all be true become not known."""

from typing import Any

from django.db import migrations, models
from django.db.models import Q

from specs.migrations._mending import Rule, outside, set_right

COILS = ("coil", "air_coil")
NO_PORT = ~Q(spring_kind__in=COILS) | ~Q(self_equalising=True)

# Of a port in a coil nobody knows which of the two was meant; unknown counts as dangerous and is asked for.
RULES = (
    Rule(
        "model_coil_levels_through_no_port",
        "specs.SuspensionModel",
        outside(NO_PORT),
        lambda row: {"self_equalising": None},
    ),
)


def mend(apps: Any, schema_editor: Any) -> None:
    set_right(apps, schema_editor, RULES)


def back(apps: Any, schema_editor: Any) -> None:
    """A spring of the new kind has no word in the old column; what is not known is asked for."""
    apps.get_model("specs.SuspensionModel").objects.using(schema_editor.connection.alias).filter(
        spring_kind="air_coil"
    ).update(spring_kind="")


CHOICES = {
    "crowns": [("single", "single crown"), ("twin", "twin crown")],
    "reservoir": [("inline", "none, an inline shock"), ("piggyback", "a piggyback"), ("hose", "on a hose of its own")],
    "remote": [("none", "none"), ("cable", "worked by a cable"), ("hose", "worked by a hose")],
}


def constraint(name: str, condition: Q, words: str) -> migrations.AddConstraint:
    return migrations.AddConstraint(
        "suspensionmodel", models.CheckConstraint(condition=condition, name=name, violation_error_message=words)
    )


class Migration(migrations.Migration):
    dependencies = [("specs", "0006_air_can_of_a_shock")]

    operations = [
        *(
            migrations.AddField(
                "suspensionmodel",
                name,
                models.CharField(blank=True, choices=words, default="", max_length=10),
                preserve_default=False,
            )
            for name, words in CHOICES.items()
        ),
        *(
            migrations.AddField("suspensionmodel", name, models.BooleanField(blank=True, null=True))
            for name in ("inverted", "ramp_chamber")
        ),
        migrations.AlterField(
            "suspensionmodel",
            "spring_kind",
            models.CharField(
                blank=True,
                choices=[("air", "air"), ("coil", "coil"), ("air_coil", "coil with air assist")],
                max_length=10,
            ),
        ),
        migrations.RunPython(mend, back),
        constraint(
            "model_coil_levels_through_no_port",
            NO_PORT,
            "A coil has no second air chamber, so nothing levels through a port. One of the two is wrong.",
        ),
        constraint(
            "model_coil_has_no_ramp_chamber",
            ~Q(spring_kind__in=COILS) | ~Q(ramp_chamber=True),
            "A coil has no ramp-up chamber. One of the two is wrong.",
        ),
        constraint(
            "model_inverted_has_no_bleed_buttons",
            ~Q(inverted=True) | ~Q(bleed_buttons=True),
            "Bleed buttons are on lowers, and an inverted fork has thin tubes there. One of the two is wrong.",
        ),
        constraint(
            "model_shock_has_no_crowns",
            Q(kind="fork") | Q(crowns=""),
            "A rear shock has no crown. Leave this not known, or say that it is a fork.",
        ),
        constraint(
            "model_shock_is_not_inverted",
            Q(kind="fork") | ~Q(inverted=True),
            "Only a fork is inverted. Leave this not known, or say that it is a fork.",
        ),
        constraint(
            "model_fork_has_no_reservoir",
            Q(kind="shock") | Q(reservoir=""),
            "A reservoir is noted of rear shocks only. Leave this not known, or say that it is a shock.",
        ),
    ]
