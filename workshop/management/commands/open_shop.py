"""`manage.py open_shop`: the first owner of a new shop, who then adds everyone else in the Office."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import CommandError, CommandParser

from workshop.running.lives_here import note_shop
from workshop.running.shop_command import ShopCommand
from workshop.staff.opening import open_shop


class Command(ShopCommand):
    help = "Make a shop and its owner, with a password for the first sign-in, to be changed there."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--name", help="name of the shop, as it stands on its paper")
        parser.add_argument("--owner", help="name the owner signs in with")
        parser.add_argument("--time-zone", default="UTC", help="such as Europe/Dublin (default: %(default)s)")

    def handle(self, *args: Any, time_zone: str, **options: Any) -> None:
        try:
            name = options["name"] or input("Name of the shop: ").strip()
            owner = options["owner"] or input("Sign-in name of its owner: ").strip()
        except EOFError as nobody:
            raise CommandError("Nobody is there to answer: give --name and --owner.") from nobody
        try:
            user, password = open_shop(name=name, owner=owner, time_zone=time_zone)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        note_shop()
        self.stdout.write(self.style.SUCCESS(f"{user.shop} is open."))
        self.stdout.write(f"First sign-in: {user.username}, password {password} (a new one is chosen then).")
