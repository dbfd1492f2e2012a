"""`manage.py shops`: a line for each shop of this database, for whoever runs the machine."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from django.core.management.base import CommandParser
from django.utils import timezone

from workshop.running.scheduled import RunStanding, standing_of_runs, words_of_run
from workshop.running.shop_command import ShopCommand
from workshop.running.shops_standing import ShopLine, lines_of_shops

HEADS = ("no.", "shop", "state", "people", "open tickets", "last sign-in", "files", "last mail sent", "last returned",
         "last error")  # fmt: skip


class Command(ShopCommand):
    help = (
        "Each shop of this database in a line: its number, name, state, people, open tickets, last sign-in, files "
        "(photos and papers), last mail sent and returned, and the day of its last error on this machine. Below, how "
        "what runs by a timer ended."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", help="for a program; moments are in UTC")

    def handle(self, *args: Any, **options: Any) -> None:
        lines, runs = lines_of_shops(), standing_of_runs(timezone.now())
        if options["json"]:
            told = {"shops": [_plain(line) for line in lines], "runs": [_plain_run(run) for run in runs]}
            self.stdout.write(json.dumps(told, ensure_ascii=False, indent=1))
            return
        for row in in_columns([HEADS, *(_cells(line) for line in lines)]):
            self.stdout.write(row)
        self.stdout.write("")
        for run in runs:
            for one in filter(None, (run.last, run.never_ended)):
                words = f"{run.name}: {words_of_run(one)}"
                self.stdout.write(self.style.ERROR(words) if one is run.went_wrong else words)


def in_columns(rows: Sequence[Sequence[str]]) -> list[str]:
    """Each row a line, its cells below those of the row before."""
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    return ["  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]


def _cells(line: ShopLine) -> tuple[str, ...]:
    return (
        str(line.number), line.name, line.state, str(line.people), str(line.open_tickets), _day(line.last_sign_in),
        str(line.files), _day(line.last_sent), _day(line.last_returned), _day(line.last_error),
    )  # fmt: skip


def _day(at: dt.datetime | None) -> str:
    return f"{timezone.localtime(at):%-d %b %Y}" if at else "-"


def _plain_run(run: RunStanding) -> dict[str, Any]:
    one = run.went_wrong or run.last
    ended = one.ended_at if one else None
    return {
        "name": run.name, "went_well": run.went_wrong is None, "machine": one.machine if one else None,
        "ended": ended.astimezone(dt.UTC).isoformat() if ended else None, "outcome": one.outcome if one else "",
    }  # fmt: skip


def _plain(line: ShopLine) -> dict[str, Any]:
    return {
        key: value.astimezone(dt.UTC).isoformat() if isinstance(value, dt.datetime) else value
        for key, value in asdict(line).items()
    }
