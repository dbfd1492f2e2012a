"""`manage.py send_reminders`: send the reminders that the owner has approved. Safe to run as often as you like."""

from __future__ import annotations

import logging
from argparse import ArgumentParser
from collections.abc import Callable
from functools import partial
from typing import Any

from django.core.management.base import CommandError
from django.template.defaultfilters import pluralize
from django.utils import timezone

from workshop.customers.looks import forget_old_looks
from workshop.privacy.erasing import finish_erasures
from workshop.privacy.retention import erase_whom_nobody_saw
from workshop.reminders.delivery import MailNotSetUp
from workshop.reminders.kept_list import Place, kept_units
from workshop.reminders.models import Message
from workshop.reminders.sending import SendReport, send_waiting, waiting_emails
from workshop.running.in_use import ShopInUse, beside_others
from workshop.running.preflight.findings import Exit
from workshop.running.scheduled import RunNotNeeded, RunUnderWay, Scheduled, run_once
from workshop.running.shop_command import ShopCommand
from workshop.staff.models import Shop

WIDTH = 30
STOPPED_NOBODY = "Where it broke stands among the errors of System and in the log; everything else was done."
_log = logging.getLogger("workshop.reminders")


class Command(ShopCommand):
    help = "Send approved reminders, and say how many services wait for the owner’s word. For cron or a systemd timer."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--quiet", action="store_true", help="say nothing unless something went wrong")
        parser.add_argument(
            "--when-due", action="store_true", help="for a timer: not where any machine did it in this hour already"
        )

    def handle(self, *args: Any, quiet: bool, when_due: bool, **options: Any) -> None:
        try:
            with beside_others("sends its reminders"), run_once(Scheduled.REMINDERS, when_due=when_due) as run:
                if run.takes_up:
                    self.stderr.write(run.takes_up)
                refused, broken = self._all_shops(run, quiet)
        except RunNotNeeded as elsewhere:
            if not quiet:
                self.stdout.write(str(elsewhere))
            return
        except ShopInUse as in_use:
            raise CommandError(f"{in_use} Nothing was sent.", returncode=Exit.IN_USE) from in_use
        if refused:
            refused.append("Nothing was sent from there, and all of it goes on waiting.")
        if broken:
            broken.append(STOPPED_NOBODY)
        if refused or broken:
            raise CommandError(" ".join([*refused, *broken]))

    def _all_shops(self, run: RunUnderWay, quiet: bool) -> tuple[list[str], list[str]]:
        """Every shop that nobody suspended; returns which could send nothing, and what broke, each with why."""
        refused: list[str] = []
        broken: list[str] = []
        sent = erased = 0
        for what, work in (
            ("What earlier erasures left", finish_erasures),
            ("Who looked at whom long ago", partial(forget_old_looks, timezone.localdate())),
        ):
            self._by_itself(broken, what, work)
        for shop in Shop.objects.all():
            if shop.is_stopped and shop.closed_at is None:
                continue  # it may be resumed: nothing leaves, and nobody is erased meanwhile
            erased += self._by_itself(broken, f"{shop}, erasing", partial(self._erase, shop, quiet), shop)
            if shop.is_stopped:
                continue
            try:
                sent += self._by_itself(broken, f"{shop}, sending", partial(self._send, shop, quiet), shop)
            except MailNotSetUp as wanting:
                waiting = waiting_emails(shop).count()
                refused.append(f"{shop}: {waiting} email{pluralize(waiting, ' waits,s wait')}. {wanting}")
        unable = f", {len(refused)} shop{pluralize(len(refused))} unable to send" if refused else ""
        run.words = " ".join([f"{sent} sent, {erased} erased{unable}.", *broken]).rstrip(".")
        run.went_well = not broken
        return refused, broken

    def _by_itself(self, broken: list[str], what: str, work: Callable[[], int], shop: Shop | None = None) -> int:
        """What `work` returns. What nobody foresaw in it keeps nobody else waiting: it is noted, and counts as 0."""
        try:
            return work()
        except MailNotSetUp:
            raise
        except Exception as error:  # whatever a shop's records or its mail server bring about
            _log.exception("Reminders broke off", extra={"shop": shop.pk} if shop else {})
            broken.append(f"{what}: it broke off ({type(error).__name__}).")
            return 0

    def _erase(self, shop: Shop, quiet: bool) -> int:
        """How many were erased whom nobody saw for long."""
        erased = erase_whom_nobody_saw(shop, timezone.localdate())
        if erased and not quiet:
            self.stdout.write(f"{shop}: {erased} not seen for long, erased.")
        return erased

    def _send(self, shop: Shop, quiet: bool) -> int:
        """How many emails left."""
        total = waiting_emails(shop).count()

        def progress(report: SendReport) -> None:
            if not quiet and total:
                filled = round(WIDTH * min(report.handled / total, 1.0))
                self.stdout.write(f"\r[{'#' * filled}{'.' * (WIDTH - filled)}] {report.handled} of {total}", ending="")

        report = send_waiting(shop=shop, progress=progress)
        kept = kept_units(shop, timezone.localdate())  # also where nothing is said: the owner's page finds it done
        if not quiet:
            overdue, due = (kept.filter(place=place).count() for place in (Place.OVERDUE, Place.DUE))
            self.stdout.write("\n" if report.handled else "", ending="")
            self.stdout.write(
                f"{shop}: {report.sent} sent, {report.later} to try later, {report.called_off} cancelled."
            )
            self.stdout.write(f"For the owner to decide: {overdue} overdue, {due} due.")
        uncertain = Message.objects.filter(shop=shop, state=Message.State.UNCERTAIN).count()
        if report.failed or report.cut_off or uncertain:
            self.stderr.write(
                f"{shop}: {report.failed} came back, {uncertain} were cut off. See Office, Reminders, Sent."
            )
        return report.sent
