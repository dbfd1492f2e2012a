"""The shop that the load comes to: `prepare` makes it and its people, `check` says what of theirs it kept.

Run as a module in a process of its own, because the tests' database is not the one that is served.
"""

from __future__ import annotations

import datetime as dt
import json
import sys
import uuid
from typing import Any

from tests.known import known

STEP, ANSWER = "record-arrival", {"outcome": "done", "reading-rest_travel": "70 mm"}


def prepare(tablets: int, jobs_each: int, desks: int, units_each: int, mark: str = "") -> dict[str, Any]:
    """A demo shop, jobs for each tablet, and a customer with units to book in for each desk.

    `mark` tells what is made now from what was made for an earlier load on the same shop.
    """
    from django.core.management import call_command
    from django.utils import timezone

    from diagnosis.models import Checklist
    from diagnosis.runs import start_run
    from tests.benchmarks.floor import _session_of
    from workshop.customers.adding import add_customer
    from workshop.demo.making import make_demo
    from workshop.staff.models import Shop, User
    from workshop.suspension.adding import add_unit
    from workshop.tickets.booking import AgreedAtBooking, book_in
    from workshop.tickets.models import TicketRun
    from workshop.work.moves import move

    call_command("migrate", verbosity=0)
    if not Shop.objects.exists():
        make_demo()
    mechanic, clerk = User.objects.get(username="mechanic"), User.objects.get(username="counter")
    shop, promised_on = clerk.shop, timezone.localdate() + dt.timedelta(days=9)
    checklist = Checklist.objects.get(key="sits-low", is_current=True)
    Checklist.objects.update(made_at=timezone.now() - dt.timedelta(days=1))

    def job(tablet: int, number: int) -> dict[str, Any]:
        customer = add_customer(shop=known(shop), by=clerk, name=f"Load Tablet {mark}{tablet} (demo)")
        unit = add_unit(
            customer=customer, described_as="Kestrigan Plume", serial=f"DEMO-T{mark}{tablet:02d}{number:03d}"
        )
        ticket = book_in(
            shop=known(shop),
            by=clerk,
            customer=customer,
            unit=unit,
            agreement=AgreedAtBooking("Sits low.", promised_on),
        )
        move(ticket=ticket, to_state="on_the_bench", by=mechanic, seen_version=ticket.version)
        run = start_run(checklist=checklist, facts=unit.facts(), by=mechanic)
        TicketRun.objects.create(ticket=ticket, run=run)
        return {"ticket": ticket.number, "run": run.pk, "step": STEP, "sent": ANSWER}

    def desk(number: int) -> dict[str, Any]:
        customer = add_customer(shop=known(shop), by=clerk, name=f"Load Desk {mark}{number} (demo)")
        units = [
            add_unit(customer=customer, described_as="Kestrigan Plume", serial=f"DEMO-D{mark}{number}-{n:04d}").pk
            for n in range(units_each)
        ]
        return {"session": _session_of(clerk), "customer": customer.pk, "units": units, "promised_on": str(promised_on)}

    return {
        "tablets": [
            {"session": _session_of(mechanic), "jobs": [job(tablet, number) for number in range(jobs_each)]}
            for tablet in range(tablets)
        ],
        "desks": [desk(number) for number in range(desks)],
    }


def check(ticked: list[str], booked: list[str], photographed: list[str]) -> dict[str, Any]:
    """Which acknowledged ticks, bookings and photos are not there, and how many tickets share a number."""
    from django.core.files.storage import default_storage
    from django.db.models import Count

    from diagnosis.models import Tick
    from workshop.kept.triggers import what_differs
    from workshop.tickets.models import Photo, Ticket

    def lost(model: Any, ids: list[str]) -> list[str]:
        there = set(model.objects.exclude(client_id=None).values_list("client_id", flat=True))
        return [each for each in ids if uuid.UUID(each) not in there]

    kept = Photo.objects.filter(client_id__in=photographed)
    without_file = [str(photo.client_id) for photo in kept if not default_storage.exists(str(photo.file.name))]
    twice = Ticket.objects.order_by().values("number").annotate(n=Count("pk")).filter(n__gt=1).count()
    return {
        "lost_ticks": lost(Tick, ticked),
        "lost_bookings": lost(Ticket, booked),
        "lost_photos": lost(Photo, photographed) + without_file,
        "numbers_twice": twice,
        "sums_that_differ": what_differs(),
    }


def main() -> None:
    import os

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")
    import django

    django.setup()
    asked = json.load(sys.stdin)
    answer = prepare(**asked["prepare"]) if "prepare" in asked else check(**asked["check"])
    sys.stdout.write(json.dumps(answer))


if __name__ == "__main__":
    main()
