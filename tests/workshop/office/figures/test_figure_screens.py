"""The figures on the screen: periods, the tickets behind a count, CSV, roles, and a fixed number of queries."""

from __future__ import annotations

import csv
import datetime as dt
import html
import io
import re
import subprocess
import sys
from decimal import Decimal
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import Run, Tick
from tests.factories import (
    CauseFactory,
    ChecklistFactory,
    ComplaintFactory,
    CustomerFactory,
    PartFactory,
    PartLineFactory,
    RunFactory,
    ShopFactory,
    StepFactory,
    SuspensionUnitFactory,
    TicketFactory,
    TicketRunFactory,
    TickFactory,
    UserFactory,
)
from tests.known import known
from workshop.charges.models import FinalCharges
from workshop.intervals.models import ServiceDone, WeeklyHours
from workshop.models import Shop, StateMove, SuspensionUnit, Ticket, User
from workshop.office.figures.period import Period, last_months
from workshop.office.figures.registry import FIGURES, FigureAsked
from workshop.office.figures.service_life import lives_by_component
from workshop.office.figures.sources import visits_of

pytestmark = pytest.mark.django_db
State = Ticket.State
DAY = dt.timedelta(days=1)


@pytest.fixture
def owner() -> User:
    return UserFactory.create(owner=True)


@pytest.fixture
def office(client: Client, owner: User) -> Client:
    client.force_login(owner)
    return client


def job(
    shop: Shop,
    *,
    days_ago: int = 30,
    took: int = 4,
    unit: SuspensionUnit | None = None,
    complaint: str = "Sits low",
    cause: str = "",
    part_role: str = "",
    **more: Any,
) -> Ticket:
    """A ticket booked in so many days ago, ready and handed back after as many as it took, with what was found."""
    booked_at = timezone.now() - days_ago * DAY
    if unit is not None:
        more |= {"unit": unit, "customer": unit.customer}
    more = {"promised_on": timezone.localtime(booked_at).date() + 5 * DAY, "state": State.HANDED_BACK} | more
    ticket: Ticket = TicketFactory.create(shop=shop, booked_at=booked_at, state_since=booked_at + took * DAY, **more)
    StateMove.objects.create(ticket=ticket, to_state=State.BOOKED_IN, at=booked_at)
    StateMove.objects.create(ticket=ticket, to_state=State.READY, at=booked_at + took * DAY)
    StateMove.objects.create(ticket=ticket, to_state=State.HANDED_BACK, at=booked_at + took * DAY)
    kind = ComplaintFactory.create(key=complaint.lower().replace(" ", "-"), title=complaint)
    ticket.complaints.add(kind)
    if cause:
        run = RunFactory.create(checklist=ChecklistFactory.create(complaint=kind))
        Run.objects.filter(pk=run.pk).update(started_at=booked_at)
        TicketRunFactory.create(ticket=ticket, run=run)
        TickFactory.create(
            run=run,
            step=StepFactory.create(checklist=run.checklist, ends_search={cause: 0.5}),
            outcome=Tick.Outcome.FOUND,
            cause=CauseFactory.create(key=cause, title=cause.replace("-", " ").capitalize(), ends_life=["wipers"]),
            ticked_at=booked_at + dt.timedelta(minutes=12),
        )
    if part_role:
        PartLineFactory.create(ticket=ticket, part=PartFactory.create(role=part_role), status="used")
    FinalCharges.objects.create(
        ticket=ticket, currency=shop.currency, tax_name="VAT", lines=[], tax_rows=[], prices_include_tax=False,
        net=Decimal(100), tax=Decimal(20), gross=Decimal(120), at=booked_at + took * DAY,
    )  # fmt: skip
    return ticket


def page_of(client: Client, key: str, **asked: str) -> Any:
    return client.get(reverse("office:figure", args=[key]), asked)


@pytest.mark.parametrize("key", sorted(FIGURES))
def test_each_figure_opens_also_of_an_empty_shop(office: Client, key: str) -> None:
    answer = page_of(office, key)
    assert answer.status_code == 200
    assert FIGURES[key].title in answer.content.decode()


@pytest.mark.parametrize("key", sorted(FIGURES))
def test_each_figure_opens_with_work_in_the_shop(office: Client, owner: User, key: str) -> None:
    job(known(owner.shop), cause="wiper-worn")
    TicketFactory.create(shop=owner.shop)
    assert page_of(office, key).status_code == 200


@pytest.mark.parametrize("role", [{}, {"mechanic": True}])
def test_figures_are_the_owners(client: Client, role: dict[str, bool]) -> None:
    client.force_login(UserFactory.create(**role))
    assert client.get(reverse("office:figures")).status_code == 403
    assert page_of(client, "money").status_code == 403


def test_all_figures_show_the_answers_that_are_quickly_had(office: Client, owner: User) -> None:
    job(known(owner.shop))
    page = office.get(reverse("office:figures")).content.decode()
    assert "Half of the tickets were ready within 4.0 days" in page
    assert "1 of 1 promise was kept, 100 %." in page
    assert "100.00 EUR before tax on 1 ticket." in page


def test_every_card_has_its_drawing_or_fetches_it_of_the_same_days(office: Client, owner: User) -> None:
    """Of nine figures five are quickly had; a card's drawing says in a sentence what it shows."""
    job(known(owner.shop), cause="wiper-worn")
    today = timezone.localdate()
    days = {"first": (today - 60 * DAY).isoformat(), "last": today.isoformat()}
    answer = office.get(reverse("office:figures"), days)
    cards = answer.content.decode().split('<section class="card')[1:]
    assert len(cards) == len(FIGURES)
    fetched = 0
    for card, kind in zip(cards, FIGURES.values(), strict=True):
        if kind.is_quick:
            drawn = re.search(r'<figure class="figure-small">\s*<svg[^>]*aria-label="[^"]+"', card)
            assert bool(drawn) != ("Nothing to draw" in card)
            continue
        fetched += 1
        (address,) = re.findall(r'hx-get="([^"]+)"', card)
        assert days["first"] in address
        small = office.get(address.replace("&amp;", "&")).content.decode()
        made = kind.make(FigureAsked(known(owner.shop), Period(today - 60 * DAY, today)))
        assert made.headline in html.unescape(small)
        assert ("<svg" in small) != ("Nothing to draw" in small)
    assert 0 < fetched < len(FIGURES)
    assert "<svg xmlns" in cards[0]


def test_a_period_of_a_card_that_cannot_be_read_is_the_usual_one(office: Client) -> None:
    answer = office.get(reverse("office:figure_small", args=["causes"]), {"first": "nonsense", "last": ""})
    assert answer.status_code == 200
    assert office.get(reverse("office:figure_small", args=["nothing-such"])).status_code == 404


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"first": "2026-02-30", "last": "2026-03-01"}, "Enter a day of the calendar"),
        ({"first": "2026-03-02", "last": "2026-03-01"}, "This day is before the first one."),
        ({"first": "", "last": "2026-03-01"}, "Choose a day."),
        ({"first": "2026-03-01"}, "Choose a day."),
        ({"first": "2999-01-01", "last": "2999-02-01"}, "That day is still to come."),
        ({"first": "0001-01-01", "last": "2026-03-01"}, "Choose a day from 1990 on."),
        ({"first": "1991-01-01", "last": "2026-03-01"}, "Choose 20 years or fewer."),
    ],
)
@pytest.mark.parametrize("route", ["figures", "figure", "figure_csv"])
def test_days_that_cannot_be_are_told_beside_the_field_and_stay(
    office: Client, route: str, asked: dict[str, str], said: str
) -> None:
    answer = office.get(reverse(f"office:{route}", args=[] if route == "figures" else ["turnaround"]), asked)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert all(f'value="{typed}"' in page for typed in asked.values() if typed)


def test_the_period_holds_its_last_day_to_the_end(office: Client, owner: User) -> None:
    ticket = job(known(owner.shop), took=3)
    day = timezone.localtime(ticket.moves.get(to_state=State.READY).at).date().isoformat()
    after = (dt.date.fromisoformat(day) + DAY).isoformat()
    assert "Half of the tickets" in page_of(office, "turnaround", first=day, last=day).content.decode()
    assert "No ticket became ready" in page_of(office, "turnaround", first=after, last=after).content.decode()


def test_a_count_opens_its_tickets_and_no_others(office: Client, owner: User) -> None:
    kept, late = job(known(owner.shop), took=2), job(known(owner.shop), took=9)
    asked = {"table": "promises", "row": "all", "column": "2"}
    answer = office.get(reverse("office:figure_tickets", args=["promises"]), asked)
    assert [ticket.pk for ticket in answer.context["page"].object_list] == [late.pk]
    page = answer.content.decode()
    assert reverse("counter:ticket", args=[late.number]) in page
    assert reverse("counter:ticket", args=[kept.number]) not in page


def test_every_link_of_every_figure_opens_as_many_tickets_as_it_says(office: Client, owner: User) -> None:
    first = job(known(owner.shop), days_ago=200, cause="wiper & worn")
    job(known(owner.shop), days_ago=150, unit=first.unit, cause="wiper & worn", complaint="Loses air, says “pssst”")
    job(known(owner.shop), days_ago=40, took=9)
    TicketFactory.create(shop=owner.shop)
    followed = 0
    for key in FIGURES:
        figure = page_of(office, key).context["figure"]
        for section in figure.sections:
            for row, cells in section.shown_rows:
                for cell in cells:
                    if cell.opens:
                        asked = {"table": section.key, "row": row.key, "column": cell.place}
                        answer = office.get(reverse("office:figure_tickets", args=[key]), asked)
                        assert answer.context["page"].paginator.count == int(cell.words)
                        followed += 1
    assert followed > 20


def test_links_in_the_page_keep_the_period_and_lead_there(office: Client, owner: User) -> None:
    job(known(owner.shop), cause="wiper & worn", complaint="Loses air, says “pssst” & more")
    page = page_of(office, "causes").content.decode()
    links = [html.unescape(link) for link in re.findall(r'href="([^"]+/tickets/\?[^"]+)"', page)]
    assert len(links) >= 4
    assert all("first=" in link for link in links)
    assert {office.get(link).status_code for link in links} == {200}


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"table": "promises", "row": "all", "column": "3"},
        {"table": "promises", "row": "all", "column": "99"},
        {"table": "promises", "row": "all", "column": "-1"},
        {"table": "promises", "row": "all", "column": "x"},
        {"table": "promises", "row": "no such row", "column": "1"},
        {"table": "no such table", "row": "all", "column": "1"},
    ],
)
def test_a_count_that_is_none_is_not_found(office: Client, asked: dict[str, str]) -> None:
    assert office.get(reverse("office:figure_tickets", args=["promises"]), asked).status_code == 404


@pytest.mark.parametrize("route", ["figure", "figure_tickets", "figure_csv"])
def test_a_figure_that_is_none_is_not_found(office: Client, route: str) -> None:
    assert office.get(reverse(f"office:{route}", args=["no-such-figure"])).status_code == 404


def test_another_shops_tickets_are_in_no_figure(office: Client) -> None:
    job(ShopFactory.create(), cause="wiper-worn")
    assert "No ticket became ready" in page_of(office, "turnaround").content.decode()
    assert "Nothing came in." in page_of(office, "causes").content.decode()
    assert "0.00 EUR" in page_of(office, "money").content.decode()
    assert "No step of these days has a time" in page_of(office, "minutes").content.decode()
    assert "No job of these days is 90 days old yet." in page_of(office, "come-backs").content.decode()
    assert not lives_by_component(ShopFactory.create(), last_months(timezone.localdate()), timezone.localdate())[
        "wipers"
    ].lives


def sheet_of(client: Client, key: str) -> list[list[str]]:
    answer = client.get(reverse("office:figure_csv", args=[key]))
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert f'filename="{key}-' in answer["Content-Disposition"]
    return list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))


def test_the_tables_as_csv_with_plain_numbers(office: Client, owner: User) -> None:
    job(known(owner.shop))
    rows = sheet_of(office, "money")
    assert rows[0] == ["Handed back in", "Tickets", "Labour", "Parts", "Before tax", "Tax", "Charged"]
    assert rows[-1] == ["Total", "1", "100.00", "0.00", "100.00", "20.00", "120.00"]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t"])
def test_no_cell_runs_as_a_formula(office: Client, owner: User, start: str) -> None:
    job(known(owner.shop), complaint=f"{start}HYPERLINK(1)")
    cells = [cell for row in sheet_of(office, "causes") for cell in row]
    assert f"'{start}HYPERLINK(1)" in cells
    assert not any(cell.startswith(("=", "+", "-", "@", "\t")) for cell in cells)


@pytest.mark.parametrize("key", sorted(FIGURES))
def test_a_figure_takes_the_same_queries_however_much_there_is(office: Client, owner: User, key: str) -> None:
    def queries() -> int:
        cache.clear()
        with CaptureQueriesContext(connection) as captured:
            assert page_of(office, key).status_code == 200
        return len(captured)

    def more(count: int) -> None:
        for _ in range(count):
            done = job(known(owner.shop), cause="wiper-worn", part_role="wiper")
            PartLineFactory.create(ticket=TicketFactory.create(shop=owner.shop, unit=done.unit, customer=done.customer))

    more(2)
    few = queries()
    more(5)
    assert queries() == few <= 22


# What the queries bring


def test_ready_again_counts_the_last_time_and_a_ticket_taken_back_is_not_ready(owner: User) -> None:
    today = timezone.localdate()
    ticket = job(known(owner.shop), days_ago=20, took=4)
    ready = ticket.moves.get(to_state=State.READY)
    ticket.moves.filter(to_state=State.HANDED_BACK).delete()
    StateMove.objects.create(ticket=ticket, to_state=State.ON_THE_BENCH, at=ready.at + DAY)
    (visit,) = visits_of(known(owner.shop), Period(today - 60 * DAY, today))
    assert visit.ready_at is None
    again = StateMove.objects.create(ticket=ticket, to_state=State.READY, at=ready.at + 2 * DAY)
    (visit,) = visits_of(known(owner.shop), Period(today - 60 * DAY, today))
    assert visit.ready_at == again.at
    assert visit.stays_days["ready", ""] == pytest.approx(1.0)


def test_a_come_back_after_the_period_is_still_seen(office: Client, owner: User) -> None:
    first = job(known(owner.shop), days_ago=200)
    job(known(owner.shop), days_ago=150, unit=first.unit)
    back = timezone.localtime(first.moves.get(to_state=State.HANDED_BACK).at).date().isoformat()
    assert "1 of 1 jobs came back" in page_of(office, "come-backs", first=back, last=back).content.decode()


def test_lives_of_parts_out_of_tickets(owner: User) -> None:
    unit = SuspensionUnitFactory.create(shop=owner.shop, customer=CustomerFactory.create(shop=owner.shop))
    WeeklyHours.objects.create(unit=unit, hours_per_week=7.0, since=timezone.localdate() - 400 * DAY, at=timezone.now())
    job(known(owner.shop), days_ago=300, unit=unit, part_role="wiper")
    found = job(known(owner.shop), days_ago=200, unit=unit, cause="wiper-worn", part_role="wiper")
    ServiceDone.objects.create(
        unit=unit, level="lowers", on=timezone.localdate() - 100 * DAY, told_by="the customer", at=timezone.now()
    )
    lives = lives_by_component(known(owner.shop), last_months(timezone.localdate()), timezone.localdate())
    bad, good = sorted(lives["wipers"].lives, key=lambda life: not life.found_bad)
    assert (bad.found_bad, bad.ticket) == (True, found.pk)
    assert [bad.hours, good.hours] == pytest.approx([96, 196])
    assert good.found_bad is False
    (oil,) = lives["lower-oil"].lives
    assert oil.found_bad is False
    assert oil.hours == pytest.approx(100)


def test_lives_are_those_that_began_in_the_period(owner: User) -> None:
    today = timezone.localdate()
    unit = SuspensionUnitFactory.create(shop=owner.shop, customer=CustomerFactory.create(shop=owner.shop))
    WeeklyHours.objects.create(unit=unit, hours_per_week=7.0, since=today - 400 * DAY, at=timezone.now())
    job(known(owner.shop), days_ago=300, unit=unit, part_role="wiper")
    found = job(known(owner.shop), days_ago=200, unit=unit, cause="wiper-worn", part_role="wiper")
    early = lives_by_component(known(owner.shop), Period(today - 310 * DAY, today - 250 * DAY), today)["wipers"]
    assert [(life.found_bad, life.ticket) for life in early.lives] == [(True, found.pk)]
    late = lives_by_component(known(owner.shop), Period(today - 240 * DAY, today), today)["wipers"]
    assert [life.found_bad for life in late.lives] == [False]
    between = lives_by_component(known(owner.shop), Period(today - 290 * DAY, today - 210 * DAY), today)["wipers"]
    assert not between.lives


def test_a_finding_that_was_taken_back_ends_no_life(owner: User) -> None:
    unit = SuspensionUnitFactory.create(shop=owner.shop, customer=CustomerFactory.create(shop=owner.shop))
    WeeklyHours.objects.create(unit=unit, hours_per_week=7.0, since=timezone.localdate() - 400 * DAY, at=timezone.now())
    job(known(owner.shop), days_ago=300, unit=unit, part_role="wiper")
    found = job(known(owner.shop), days_ago=200, unit=unit, cause="wiper-worn")
    told = Tick.objects.get(run__in=found.ticket_runs.values("run"))
    TickFactory.create(run=told.run, step=told.step, outcome=Tick.Outcome.TAKEN_BACK)
    assert not lives_by_component(known(owner.shop), last_months(timezone.localdate()), timezone.localdate())[
        "wipers"
    ].events


def test_the_shop_starts_without_the_library_that_fits_curves() -> None:
    """In an interpreter of its own: every address is loaded, and SciPy's statistics, which take a second, are not."""
    listing = (
        "import django, sys; django.setup(); from django.urls import get_resolver; len(get_resolver().reverse_dict);"
        "print([name in sys.modules for name in ('scipy.stats', 'workshop.office.figures.service_life')])"
    )
    ran = subprocess.run([sys.executable, "-c", listing], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[False, True]"
