"""Fill an empty database with a demo shop of 200,000 tickets, to measure on."""

from __future__ import annotations

import datetime as dt
import time
from argparse import ArgumentParser
from typing import Any

from django.core.management import CommandError, call_command
from django.core.management.base import BaseCommand

from workshop.demo.big_shop import NotEmpty, make_big_shop
from workshop.demo.long_past import LATELY, Sizes
from workshop.running.whereabouts import NotUsable, check_may_begin

WIDTH = 40


class Command(BaseCommand):
    help = "Fill an empty database with an invented shop that has years of tickets behind it, to measure on."

    def add_arguments(self, parser: ArgumentParser) -> None:
        usual = Sizes()
        parser.add_argument("--tickets", type=int, default=usual.tickets)
        parser.add_argument("--customers", type=int, default=usual.customers)
        parser.add_argument("--units", type=int, default=usual.units)
        parser.add_argument("--days", type=int, default=usual.days, help="over how many days the tickets were worked")
        parser.add_argument(
            "--lately",
            type=int,
            help="how many of them in the last two weeks; unless said, as many as in any other two",
        )

    def handle(
        self, *args: Any, tickets: int, customers: int, units: int, days: int, lately: int | None, **options: Any
    ) -> None:
        if min(tickets, customers, units, days) < 1:
            raise CommandError("Each size is at least 1.")
        if lately is not None and not (0 < lately < tickets and dt.timedelta(days=days) > LATELY):
            raise CommandError("Lately came at least one ticket, not all of them, in a past of more than two weeks.")
        try:
            check_may_begin()
        except NotUsable as reason:
            raise CommandError(str(reason)) from reason
        call_command("migrate", verbosity=0)
        began, done = time.monotonic(), 0

        def progress(made: int) -> None:
            nonlocal done
            done += made
            filled = round(WIDTH * done / tickets)
            bar = f"\r  [{'#' * filled}{'.' * (WIDTH - filled)}] {done:,}"
            self.stdout.write(bar, ending="\n" if done == tickets else "")
            self.stdout.flush()

        def say(words: str) -> None:
            self.stdout.write(f"  {words}")

        try:
            logins = make_big_shop(Sizes(tickets, customers, units, days, lately), say=say, progress=progress)
        except NotEmpty as problem:
            raise CommandError(str(problem)) from problem
        self.stdout.write(f"Made in {time.monotonic() - began:.0f} s. Every name and value is invented. Sign in as:")
        for login in logins:
            self.stdout.write(f"  {login.role:<9} {login.username:<10} {login.password}")
