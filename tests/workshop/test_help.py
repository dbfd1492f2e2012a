"""`manage.py help`: the shop's own commands first, each with a line, and none forgotten."""

from __future__ import annotations

from django.core.management import get_commands

from workshop.management.helping import GROUPS, ShopUtility

OURS = {name for name, app in get_commands().items() if str(app) in {"workshop", "diagnosis", "specs"}}


def test_every_command_of_the_shop_has_a_line() -> None:
    named = [name for commands in GROUPS.values() for name in commands]
    assert sorted(named) == sorted(OURS)
    assert all(line for commands in GROUPS.values() for line in commands.values())


def test_they_come_before_djangos() -> None:
    shown = ShopUtility(["manage.py"]).main_help_text()
    assert all(f"  {name}" in shown for name in OURS)
    ours, _, djangos = shown.partition("Django’s own")
    assert "serve " in ours
    assert "makemigrations" in djangos
    assert "makemigrations" not in ours
    assert max(map(len, shown.splitlines())) <= 100


def test_completion_still_has_every_name() -> None:
    assert set(get_commands()) <= set(ShopUtility(["manage.py"]).main_help_text(commands_only=True).split())
