"""`manage.py send_reminders`: send the reminders that the owner has approved. Safe to run as often as you like."""

from __future__ import annotations

from argparse import ArgumentParser
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
from workshop.running.scheduled import RunNotNeeded, RunUnderWay, Scheduled, run_once
from workshop.running.shop_command import ShopCommand
from workshop.staff.models import Shop

WIDTH = 30


class Command(ShopCommand):
    help = "Send approved reminders, and say how many services wait for the owner’s word. For cron or a systemd timer."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--quiet", action="store_true", help="say nothing unless something went wrong")
        parser.add_argument(
            "--when-due", action="store_true", help="for a timer: not where any machine did it in this hour already"
        )

    def handle(self, *args: Any, quiet: bool, when_due: bool, **options: Any) -> None:
        try:
            with run_once(Scheduled.REMINDERS, when_due=when_due) as run:
                if run.takes_up:
                    self.stderr.write(run.takes_up)
                refused = self._all_shops(run, quiet)
        except RunNotNeeded as elsewhere:
            if not quiet:
                self.stdout.write(str(elsewhere))
            return
        if refused:
            raise CommandError(" ".join([*refused, "Nothing was sent from there, and all of it goes on waiting."]))

    def _all_shops(self, run: RunUnderWay, quiet: bool) -> list[str]:
        """Every shop that nobody suspended; returns which of them could send nothing, and why."""
        finish_erasures()
        forget_old_looks(timezone.localdate())
        refused: list[str] = []
        sent = erased_in_all = 0
        for shop in Shop.objects.all():
            if shop.is_stopped and shop.closed_at is None:
                continue  # it may be resumed: nothing leaves, and nobody is erased meanwhile
            erased = erase_whom_nobody_saw(shop, timezone.localdate())
            erased_in_all += erased
            if erased and not quiet:
                self.stdout.write(f"{shop}: {erased} not seen for long, erased.")
            if shop.is_stopped:
                continue
            try:
                sent += self._send(shop, quiet)
            except MailNotSetUp as wanting:
                waiting = waiting_emails(shop).count()
                refused.append(f"{shop}: {waiting} email{pluralize(waiting, ' waits,s wait')}. {wanting}")
        unable = f", {len(refused)} shop{pluralize(len(refused))} unable to send" if refused else ""
        run.words = f"{sent} sent, {erased_in_all} erased{unable}"
        return refused

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
