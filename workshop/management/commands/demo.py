"""Make the demo shop on the first start, print how to sign in, and serve it."""

from __future__ import annotations

import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import CommandError, call_command
from django.core.management.base import BaseCommand

from workshop.demo.making import Login, RealShopThere, demo_is_there, make_demo
from workshop.running.lives_here import note_shop
from workshop.running.whereabouts import NotUsable, check_may_begin


class Command(BaseCommand):
    help = "Make an invented shop with people, forks and tickets, print its logins, and serve it on this machine."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--address", default="127.0.0.1", help="address to listen on (default: this machine only)")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--make-only", action="store_true", help="make the shop and print the logins, do not serve")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            check_may_begin()
        except NotUsable as reason:
            raise CommandError(str(reason)) from reason
        call_command("migrate", verbosity=0)
        logins_file = Path(settings.DATA_DIR) / "demo_logins.txt"
        try:
            if not demo_is_there():
                self.stdout.write("Making the demo shop; this is done once.")
                logins = make_demo(say=lambda words: self.stdout.write(f"  {words}"))
                _keep(logins_file, _in_words(logins))
        except RealShopThere as problem:
            raise CommandError(str(problem)) from problem
        note_shop()
        self.stdout.write("\nEvery name and value in this shop is invented. Sign in as:\n")
        self.stdout.write(logins_file.read_text() if logins_file.exists() else "  (the file of logins was removed)")
        if not options["make_only"]:
            self.stdout.write(f"\nOpen http://{options['address']}:{options['port']}/\n")
            self.stdout.flush()
            call_command("serve", address=options["address"], port=options["port"], http=True)


def _in_words(logins: list[Login]) -> str:
    return "".join(f"  {login.role:<9} {login.username:<10} {login.password}\n" for login in logins)


def _keep(path: Path, text: str) -> None:
    """Keep the logins where only the owner of the files can read them."""
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "w") as file:
        file.write(text)
