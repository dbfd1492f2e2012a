"""What `manage.py help` shows: the shop's own commands first, each with a line, then Django's."""

from __future__ import annotations

from django.core.management import ManagementUtility, get_commands

GROUPS = {
    "Try it": {
        "demo": "an invented shop to look at",
        "test": "the tests",
    },
    "Run a shop": {
        "install_service": "the shop as a service of this machine, its upgrade, and its removal",
        "serve": "serve the shop to its people",
        "open_shop": "a new shop and its owner’s first password",
        "shops": "each shop of this database in a line, for whoever runs the machine",
        "suspend_shop": "let nobody of one shop in; --back resumes it",
        "close_shop": "end a suspended shop for good, after an export of everything of it",
        "let_in": "a new first password for who lost password or phone",
        "backup": "the whole shop in one file, copied to a second place, tried once a week",
        "restore": "the shop of a backup",
        "upgrade": "after new code was put in place, everything else; --back undoes it",
        "send_reminders": "send the reminders that the owner has approved",
        "check_shop": "whether all is well: disk, key, clock, certificates, the whole database",
        "check_sums": "whether levels, visits, due list and search agree; --mend makes them anew",
        "rebuild_search": "make what is searched anew",
        "migrate": "bring the tables up to this code, while other machines go on serving",
        "check_log": "whether the security log is as it was written",
    },
    "For contributors": {
        "lint": "style, types, imports, migrations",
        "lock": "pin the packages anew",
        "audit": "look the pinned packages up among known faults",
        "check_checklists": "go through every state of the checklists",
        "make_pseudo": "languages that nobody speaks, to see what is not marked for translation",
        "big_shop": "a shop of 200,000 tickets, to measure on",
    },
}


class ShopUtility(ManagementUtility):
    """Django's own, with this help."""

    def main_help_text(self, commands_only: bool = False) -> str:
        if commands_only:
            return super().main_help_text(commands_only=True)
        lines = ["python3 manage.py COMMAND; what a command takes: python3 manage.py help COMMAND"]
        for title, commands in GROUPS.items():
            lines += ["", title, *(f"  {name:<17}{line}" for name, line in commands.items())]
        ours = {name for commands in GROUPS.values() for name in commands}
        return "\n".join([*lines, "", "Django’s own", _in_columns(sorted(set(get_commands()) - ours))])


def _in_columns(names: list[str], width: int = 78) -> str:
    lines = [" "]
    for name in names:
        if len(lines[-1]) + len(name) + 1 > width:
            lines.append(" ")
        lines[-1] += f" {name}"
    return "\n".join(lines)
