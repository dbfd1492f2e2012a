"""`manage.py serve`: the production server, with everything that has to happen before it."""

from __future__ import annotations

import contextlib
import os
import socket
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.utils import timezone

from workshop.migrating.held import in_one_piece
from workshop.migrating.rights import may_alter_tables
from workshop.reminders.kept_list import bring_every_shop_up_to_date
from workshop.running.databases import keep_private, sqlite_file
from workshop.running.in_use import CannotBeSeen, ShopInUse, beside_others, hold_for_serving, refuse_in_use
from workshop.running.lives_here import note_shop
from workshop.running.metrics import counting_environment
from workshop.running.opened_file import VARIABLE, numbers_of
from workshop.running.preflight.certificates import CERTIFICATE_OF_SERVER, of_server
from workshop.running.preflight.findings import Exit, Purpose
from workshop.running.preflight.folders import os_error_in_words
from workshop.running.preflight.looking import AFTERWARDS, begin, look, say_findings
from workshop.running.seen_serving import SERVED_ON
from workshop.running.shipped import load_what_ships
from workshop.searching.installing import what_is_wanting
from workshop.serving import granian_command, server_environment, size_for
from workshop.shop_network.addresses import USUAL_NAME, name_on_the_network
from workshop.shop_network.authority import AuthorityUnusable
from workshop.shop_network.command_line import EVERYWHERE, PAGE_PORT, refuse_what_contradicts
from workshop.shop_network.in_words import HTTPS_ONLY, told_on_terminal
from workshop.shop_network.keeping import AskedFor, ShopNetwork, serve_until_stopped
from workshop.shop_network.served import FOLDER, Served
from workshop.staff.models import User
from workshop.staff.roles import Right, sets_with
from workshop.web.public_address import public_address

PLAIN_HTTP = "Plain HTTP: names and passwords cross the network unprotected. Only for a network you trust."
MIGRATION_FAILED = (
    "What failed was taken back. Put the code of before in place, or restore the newest backup: python3 manage.py "
    "restore --replace FILE."
)


@contextlib.contextmanager
def _told(what: str, todo: str = "Nothing is served. Look at the disk, and at what check_shop says.") -> Iterator[None]:
    """What fails on the way is said in a line, whatever it is; `--traceback` shows where."""
    try:
        yield
    except Exception as error:  # whatever a migration or the machine may raise
        said = str(error).strip().partition("\n")[0]
        raise CommandError(f"{what} failed: {said or type(error).__name__}. {todo}", returncode=Exit.FAILED) from error


class Command(BaseCommand):
    help = "Start the shop for its people: bring the database up to date, collect static files, check, and serve."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--address", help="address to listen on (default: 127.0.0.1; with --shop-network, the whole local network)"
        )
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (default: %(default)s)")
        parser.add_argument("--http", action="store_true", help="plain HTTP, for a network you trust")
        parser.add_argument("--certificate", type=Path, help="TLS certificate chain, PEM")
        parser.add_argument("--key", type=Path, help="private key of the certificate, PKCS#8 PEM")
        parser.add_argument(
            "--shop-network",
            action="store_true",
            help="for the tablets of the shop’s own network: TLS by the shop’s own authority, with a page that says "
            "how a device comes to trust it",
        )
        parser.add_argument("--page-port", type=int, default=PAGE_PORT, help="port of that page (default: %(default)s)")
        parser.add_argument(
            "--name", default=USUAL_NAME, help="name in the shop’s network, without .local (default: %(default)s)"
        )
        parser.add_argument("--workers", type=int, help="processes (default: by cores and database)")

    def handle(self, *args: Any, port: int, http: bool, **options: Any) -> None:
        address = options["address"] or (EVERYWHERE if options["shop_network"] else "127.0.0.1")
        certificate, key = options["certificate"], options["key"]
        self._refuse_what_cannot_be(address, port, http, options)
        self._refuse_a_second_one()
        self._refuse_a_taken_port(address, port)
        if options["shop_network"]:
            self._refuse_a_taken_port(address, options["page_port"], " for the page: choose another with --page-port")
        where = f"{address}, port {port}"
        lock = self._hold(where)
        try:
            with self._beside_other_machines(where):  # from then on the server's processes are seen themselves
                begin(self, Purpose.SERVE, more=of_server(certificate, key, timezone.now()) if certificate else ())
                network = self._open_network(address, port, options) if options["shop_network"] else None
                self._prepare()
                self._say_what_is_wanting(http)
        except CommandError:
            os.close(lock)
            raise
        if network is not None:
            certificate = key = network.certificate
        environment = server_environment(os.environ, address, http=http, certificate=certificate, key=key)
        if options["certificate"]:
            environment[CERTIFICATE_OF_SERVER] = str(options["certificate"].resolve())
        if connection.vendor == "sqlite":
            environment[VARIABLE] = numbers_of(sqlite_file(connection))
        environment |= counting_environment() | {SERVED_ON: where}
        size = size_for(settings.DATABASES["default"]["ENGINE"], workers=options["workers"])
        command = granian_command(address, port, size, certificate=certificate, key=key)
        os.chdir(settings.BASE_DIR)
        if network is not None:
            sys.exit(serve_until_stopped(network, command, environment, tell=self._tell, keep_open=lock))
        scheme = "https" if certificate else "http"
        behind = "" if http or certificate else ", for the proxy in front that does TLS"
        self.stdout.write(self.style.SUCCESS(f"Serving on {scheme}://{address}:{port}{behind}. Ctrl+C stops it."))
        if certificate:
            self.stdout.write(HTTPS_ONLY)
        self.stdout.flush()
        os.execve(command[0], command, environment)  # noqa: S606  the server

    def _refuse_what_cannot_be(self, address: str, port: int, http: bool, options: dict[str, Any]) -> None:
        if settings.DEBUG:
            raise CommandError("DEBUG is on, and shows the shop’s insides to anyone: unset it to serve.")
        tls = {"http": http, "certificate": options["certificate"], "key": options["key"]}
        try:
            if options["shop_network"]:
                refuse_what_contradicts(os.environ, **tls, port=port, page_port=options["page_port"])
                name_on_the_network(options["name"])
            else:
                server_environment(os.environ, address, **tls)
        except ValueError as error:
            raise CommandError(str(error)) from error
        try:
            public_address(settings.PUBLIC_ADDRESS)
        except ValueError as error:
            raise CommandError(f"PUBLIC_ADDRESS is “{settings.PUBLIC_ADDRESS}”. {error}") from error

    def _refuse_a_second_one(self) -> None:
        """Before its port is found taken, which says less."""
        try:
            refuse_in_use()
        except ShopInUse as in_use:
            raise CommandError(str(in_use), returncode=Exit.IN_USE) from in_use

    def _refuse_a_taken_port(self, address: str, port: int, hint: str = "") -> None:
        family = socket.AF_INET6 if ":" in address else socket.AF_INET
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((address, port))
            except (OSError, OverflowError) as error:
                words = f"Cannot listen on {address}, port {port}{hint}: {error}."
                raise CommandError(words, returncode=Exit.IN_USE) from error

    def _hold(self, where: str) -> int:
        """Have the shop to oneself to serve."""
        try:
            return hold_for_serving(where)
        except ShopInUse as in_use:
            raise CommandError(str(in_use), returncode=Exit.IN_USE) from in_use
        except OSError as error:
            words = f"Nothing can be written to {settings.DATA_DIR}: {os_error_in_words(error)}. Look at DATA_DIR."
            raise CommandError(words, returncode=Exit.NOT_BEGUN) from error

    @contextlib.contextmanager
    def _beside_other_machines(self, where: str) -> Iterator[None]:
        """Refuse while one of them restores or upgrades the shop; a database that is away is told by what looks."""
        with contextlib.ExitStack() as held:
            try:
                held.enter_context(beside_others(f"starts to serve it on {where}"))
            except CannotBeSeen:
                pass
            except ShopInUse as in_use:
                raise CommandError(str(in_use), returncode=Exit.IN_USE) from in_use
            yield

    def _open_network(self, address: str, port: int, options: dict[str, Any]) -> ShopNetwork:
        """The shop's authority, certificate and names, made where they are missing."""
        name = name_on_the_network(options["name"])
        wanted = AskedFor(Path(settings.DATA_DIR) / FOLDER, address, port, options["page_port"], name)
        try:
            network = ShopNetwork(wanted, say=self._say)
        except (ValueError, AuthorityUnusable) as error:
            raise CommandError(str(error)) from error
        for words in network.warnings():
            self.stderr.write(self.style.WARNING(words))
        return network

    def _say(self, words: str) -> None:
        self.stderr.write(words)
        self.stderr.flush()

    def _tell(self, served: Served) -> None:
        self.stdout.write(told_on_terminal(served))
        self.stdout.write(self.style.SUCCESS("Ctrl+C stops it."))
        self.stdout.flush()

    def _prepare(self) -> None:
        if may_alter_tables(connection):  # else the look before found nothing to alter
            with _told("Bringing the database up to date", MIGRATION_FAILED):
                call_command("migrate", interactive=False, verbosity=0)
        keep_private(connection)
        with _told("Loading the checklists"):
            self._load_checklists()
        with _told("Collecting static files"):
            call_command("collectstatic", interactive=False, verbosity=0)
        with _told("Bringing the due list up to date"):
            bring_every_shop_up_to_date()
            note_shop()
        say_findings(self, look(Purpose.SERVE, AFTERWARDS))

    def _load_checklists(self) -> None:
        """What ships with this release; a version that the shop made its own stays in use."""
        shipped = in_one_piece(load_what_ships)
        if shipped is None:
            self.stdout.write("The checklists in use are of a newer version of this app than this one, and stay so.")
        loaded = [entry for entry in shipped or [] if entry.is_new]
        put = sum(entry.in_use for entry in loaded)
        if put:
            self.stdout.write(f"Loaded {put} checklists.")
        if len(loaded) > put:
            self.stdout.write(
                f"{len(loaded) - put} shipped checklists changed where the shop has its own: compare in the Office."
            )

    def _say_what_is_wanting(self, http: bool) -> None:
        if http:
            self.stderr.write(self.style.WARNING(PLAIN_HTTP))
            call_command("check", fail_level="ERROR")
        else:
            call_command("check", deploy=True, fail_level="ERROR")
        slow_search = what_is_wanting()
        if slow_search:
            self.stderr.write(self.style.WARNING(slow_search))
        if not User.objects.filter(is_active=True, roles__in=sets_with(Right.RUN_THE_SHOP)).exists():
            self.stderr.write("Nobody owns this shop yet. In another window: python3 manage.py open_shop")
