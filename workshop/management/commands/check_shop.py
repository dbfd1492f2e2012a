"""`manage.py check_shop`: what `serve`, `upgrade` and `backup` look at first, at any time, and the whole database."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from workshop.running.lives_here import note_shop
from workshop.running.page_check import PageCheck
from workshop.running.preflight.findings import Exit, Purpose, StartFinding
from workshop.running.preflight.looking import look
from workshop.running.stored import files_place
from workshop.running.whole_check import check_pages_at_start, check_whole, damage_in_words
from workshop.web.storage import StoreAway

ACCEPTED = "Database, key and files that are here now are noted as this shop’s."


class Command(BaseCommand):
    help = (
        "Look at everything a start looks at, and through the whole database: pages, kept sums, search index. Safe "
        "while the shop is open. Exit code 0: nothing wants doing; 3: the shop works, and something does; 4: it cannot "
        "be served as it is."
    )
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--quick", action="store_true", help="of the database, its pages only, for ten seconds")
        parser.add_argument("--quiet", action="store_true", help="say nothing where nothing wants doing")
        parser.add_argument(
            "--accept",
            action="store_true",
            help="the database, the secret key and the bucket of files that are here now are this shop’s: it was "
            "replaced on purpose, or the old key is lost",
        )

    def handle(self, *args: Any, quick: bool, quiet: bool, accept: bool, **options: Any) -> None:
        found = look(Purpose.CHECK)
        if accept and not any(finding.stops and not finding.by_choice for finding in found):
            self._accept()
            found = look(Purpose.CHECK)
        if not any(finding.stops for finding in found):
            found += self._database(quick)
        for finding in found:
            self.stdout.write(str(finding))
        if any(finding.stops for finding in found):
            raise CommandError("The shop cannot be served as it is.", returncode=Exit.NOT_BEGUN)
        if found:
            count = len(found)
            words = f"{count} thing{' needs' if count == 1 else 's need'} attention."
            raise CommandError(words, returncode=Exit.SEE_TO_IT)
        if not quiet:
            self.stdout.write(self.style.SUCCESS("Nothing wants seeing to."))

    def _accept(self) -> None:
        try:
            note_shop(anew=True)
        except StoreAway as away:
            raise CommandError(f"{files_place()} was not marked. {away.words}", returncode=Exit.FAILED) from away
        self.stdout.write(ACCEPTED)

    def _database(self, quick: bool) -> list[StartFinding]:
        if not quick:
            return [StartFinding("Database", said) for said in check_whole()]
        pages: PageCheck = check_pages_at_start()
        if not pages.finished:
            self.stdout.write(
                "It is a large database: not all of its pages were looked at. Leave out --quick for that."
            )
        return [StartFinding("Database", said) for said in damage_in_words(pages)]
