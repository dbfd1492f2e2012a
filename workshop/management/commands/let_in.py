"""`manage.py let_in`: a way back in for whoever has lost password or phone, for someone at the shop's own machine."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.db import transaction

from workshop.running.shop_command import ShopCommand
from workshop.staff.adding import let_in
from workshop.staff.models import User
from workshop.staff.security_log import Did, WhereFrom, note


class Command(ShopCommand):
    help = "Give a member of staff a new first password, end a lock-out, and remove their second factor."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="the name they sign in with")

    def handle(self, *args: Any, name: str, **options: Any) -> None:
        member = User.objects.filter(username__iexact=name).first()
        if member is None:
            raise CommandError(f"Nobody signs in as “{name}”.")
        with transaction.atomic():
            if member.shop is not None:
                note(shop=member.shop, did=Did.LET_IN_AT_MACHINE, by=None, place=WhereFrom(), who=member.username)
            password = let_in(member=member)
        self.stdout.write(self.style.SUCCESS(f"{member} may sign in again."))
        self.stdout.write(f"Next sign-in: {member.username}, password {password} (a new one is chosen then).")
