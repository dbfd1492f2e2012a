"""`manage.py install_service`, as far as help and Django know it: manage.py carries it out before Django."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from workshop.service.main import add_options, install_service


class Command(BaseCommand):
    help = (
        "On Debian or Ubuntu, as root: the shop as a service that starts with the machine, with nightly backups and "
        "hourly reminders. With newer code, the upgrade. It says what it does before it does it."
    )
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        add_options(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        names = ("yes", "dry_run", "back", "remove", "shop_network", "this_machine_only", "with_data")
        given = [name for name in names if options[name]]
        sys.exit(install_service([f"--{name.replace('_', '-')}" for name in given]))
