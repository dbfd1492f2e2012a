"""All that is looked at, in order, and the look itself: what fails in it is a finding, never a traceback."""

from __future__ import annotations

from collections.abc import Iterable

from django.core.management.base import BaseCommand, CommandError

from workshop.running.preflight import certificates, clock, database, folders, paper_and_mail, secret_key, shared
from workshop.running.preflight.findings import ALL, COMMANDS, Exit, Look, Purpose, StartFinding
from workshop.running.system_fact import SystemFact

_SHOP_THERE = COMMANDS - {Purpose.RESTORE}  # a restore puts another database there
_BY_ITSELF = frozenset({Purpose.SERVE, Purpose.UPGRADE})

LOOKS = (
    Look("Folders", folders.folders),
    Look("Disk", folders.room, COMMANDS),  # System has a line of its own for what this and PDFs find
    Look("Fonts and styles", folders.fonts_and_styles, ALL - {Purpose.BACKUP, Purpose.RESTORE}),
    Look("Secret key", secret_key.secret_key),
    Look("Clock", clock.clock_before_code),
    Look("PDFs", paper_and_mail.pdfs, COMMANDS - {Purpose.BACKUP, Purpose.RESTORE}),
    Look("Certificate", certificates.certificates, ALL - {Purpose.BACKUP, Purpose.RESTORE}),
    Look("Journal", database.journals, ALL - {Purpose.RESTORE}, at_database=True),
    Look(shared.FILES, shared.bucket_answers),
    Look("Database", database.is_there, _SHOP_THERE, at_database=True),
    Look("Database", database.answers, frozenset({Purpose.RESTORE}), at_database=True),
    Look("Database", database.takes_writes, asks_database=True, at_database=True),
    Look("Database", database.pages, _BY_ITSELF, asks_database=True, at_database=True),
    Look("Database", database.is_ours, ALL - {Purpose.RESTORE}, asks_database=True, at_database=True),
    Look("Database", database.age, _SHOP_THERE - {Purpose.BACKUP}, asks_database=True, at_database=True),
    Look(shared.FILES, shared.files_are_ours, asks_database=True),
    Look("Secret key", shared.key_is_shared, ALL - {Purpose.RESTORE}, asks_database=True),
    Look(
        "Clock", clock.clock_before_rows, frozenset({Purpose.CHECK, Purpose.PAGE, Purpose.BACKUP}), asks_database=True
    ),
    Look("Clock", clock.clock_beside_database, asks_database=True),
    Look("Mail", paper_and_mail.mail, frozenset({Purpose.CHECK, Purpose.PAGE}), asks_database=True),
)
# What asks the tables of today's models is looked at again by `serve` and `upgrade` once they are up to date.
AFTERWARDS = (
    Look("Clock", clock.clock_before_rows, _BY_ITSELF, asks_database=True),
    Look("Mail", paper_and_mail.mail, _BY_ITSELF, asks_database=True),
)


def look(purpose: Purpose, looks: Iterable[Look] = LOOKS) -> list[StartFinding]:
    """Everything that is found for this purpose, in order."""
    found: list[StartFinding] = []
    usable = True
    for one in looks:
        if purpose not in one.purposes or (one.asks_database and not usable):
            continue
        try:
            of_this = list(one.do(purpose))
        except Exception as error:  # whatever a look may meet: it is told, and the others go on
            of_this = [_cannot_be_seen(one, error)]
        found += of_this
        usable = usable and not (one.at_database and any(finding.stops for finding in of_this))
    return found


def _cannot_be_seen(one: Look, error: Exception) -> StartFinding:
    said = str(error).strip().partition("\n")[0]
    words = f"This could not be looked at: {type(error).__name__}{f': {said}' if said else ''}."
    return StartFinding(one.subject, words, "Tell whoever looks after the shop’s computer.")


def begin(command: BaseCommand, purpose: Purpose, *, after: str = "", more: Iterable[StartFinding] = ()) -> None:
    """Look, say what wants doing, and raise CommandError (exit code 4) where the command must not begin.

    Args:
        after: what to say behind that, such as that nothing was changed.
        more: what the command found itself, of its own options.
    """
    found = [*more, *look(purpose)]
    say_findings(command, [finding for finding in found if not finding.stops])
    refuse_to_begin([finding for finding in found if finding.stops], after=after)


def say_findings(command: BaseCommand, found: Iterable[StartFinding]) -> None:
    for finding in found:
        command.stderr.write(command.style.WARNING(str(finding)))


def refuse_to_begin(stopping: list[StartFinding], *, after: str = "") -> None:
    if stopping:
        said = "\n".join(str(finding) for finding in stopping)
        raise CommandError(f"{said} {after}".strip(), returncode=Exit.NOT_BEGUN)


def standing_of_preflight() -> list[SystemFact]:
    """For System: a line of its own for each finding, or one that says that there is none."""
    found = look(Purpose.PAGE)
    if not found:
        return [SystemFact("Before a start", "All well", "folders, key, clock, certificates, database, mail")]
    return [SystemFact(one.subject, "Not as it should be", todo=f"{one.words} {one.todo}".strip()) for one in found]
