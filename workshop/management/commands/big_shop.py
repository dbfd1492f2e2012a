"""Fill an empty database with a demo shop of 200,000 tickets, to measure on."""

from __future__ import annotations

import time
from argparse import ArgumentParser
from typing import Any

from django.core.management import CommandError, call_command
from django.core.management.base import BaseCommand

from workshop.demo.big_shop import NotEmpty, make_big_shop
from workshop.demo.long_past import Sizes

WIDTH = 40


class Command(BaseCommand):
    help = "Fill an empty database with an invented shop that has years of tickets behind it, to measure on."

    def add_arguments(self, parser: ArgumentParser) -> None:
        usual = Sizes()
        parser.add_argument("--tickets", type=int, default=usual.tickets)
        parser.add_argument("--customers", type=int, default=usual.customers)
        parser.add_argument("--units", type=int, default=usual.units)
        parser.add_argument("--days", type=int, default=usual.days, help="over how many days the tickets were worked")

    def handle(self, *args: Any, tickets: int, customers: int, units: int, days: int, **options: Any) -> None:
        if min(tickets, customers, units, days) < 1:
            raise CommandError("Each size is at least 1.")
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
            logins = make_big_shop(Sizes(tickets, customers, units, days), say=say, progress=progress)
        except NotEmpty as problem:
            raise CommandError(str(problem)) from problem
        self.stdout.write(f"Made in {time.monotonic() - began:.0f} s. Every name and value is invented. Sign in as:")
        for login in logins:
            self.stdout.write(f"  {login.role:<9} {login.username:<10} {login.password}")
