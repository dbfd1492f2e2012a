"""Which services a ticket was, the rules of a unit, and where it stands."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import Tick
from specs.units import to_si
from tests.factories import (
    ChecklistFactory,
    CustomerFactory,
    RunFactory,
    ShopFactory,
    SpecValueFactory,
    StepFactory,
    SuspensionModelFactory,
    SuspensionUnitFactory,
    TicketFactory,
    TicketRunFactory,
    TickFactory,
    UserFactory,
)
from tests.logbook import changed, logged
from tests.shipped import shipped_folder
from tests.squeezed import squeezed
from workshop.intervals.forecast import DueBy
from workshop.intervals.levels import levels_covering, levels_done
from workshop.intervals.life import life_of
from workshop.intervals.models import ServiceDone, UnitRule, WeeklyHours
from workshop.intervals.riding import read_counter, say_weekly_hours
from workshop.intervals.rules import newest_rule, set_rule
from workshop.intervals.services import (
    correct_services_done,
    levels_ticked,
    note_service_elsewhere,
    record_services_done,
)
from workshop.intervals.standing import histories_of, standing_of, standings_of
from workshop.models import Ticket
from workshop.suspension.fitting import give_to
from workshop.tickets.models import StateMove
from workshop.tickets.settings_record import Settings
from workshop.web.versions import StaleVersion
from workshop.work.hand_back import hand_back

pytestmark = pytest.mark.django_db
TODAY = dt.date(2026, 9, 1)


def ticket_with_steps(
    *keys: str, checklist: str = "routine-lowers-service", outcome: str = "done", **more: Any
) -> Ticket:
    ticket: Ticket = TicketFactory.create(**more)
    run = RunFactory.create(checklist=ChecklistFactory.create(key=checklist, title="Lowers service"))
    TicketRunFactory.create(ticket=ticket, run=run)
    for position, key in enumerate(dict.fromkeys(["lowers-off", "oil-in-legs", *keys])):
        step = StepFactory.create(checklist=run.checklist, key=key, position=position, kind="work", services=["lowers"])
        if key in keys:
            TickFactory.create(run=run, step=step, outcome=outcome)
    return ticket


def with_interval(unit: Any, level: str = "lowers", *, hours: float | None = None, months: int | None = None) -> None:
    if hours is not None:
        SpecValueFactory.create(
            model=unit.model, quantity=f"{level}_interval_hours", magnitude_si=hours * 3600, typed=f"{hours} h"
        )
    if months is not None:
        SpecValueFactory.create(
            model=unit.model,
            quantity=f"{level}_interval_months",
            magnitude_si=to_si(months, "time", "months"),
            typed=f"{months} months",
        )


def test_hand_back_writes_down_the_service() -> None:
    ticket = ticket_with_steps("lowers-off", "oil-in-legs", state=Ticket.State.READY)
    clerk = UserFactory.create(shop=ticket.shop)
    hand_back(ticket=ticket, by=clerk, seen_version=ticket.version, settings=Settings())
    (service,) = ServiceDone.objects.all()
    assert (service.unit, service.level, service.on) == (ticket.unit, "lowers", timezone.localdate())
    assert service.told_by == "Checklist “Lowers service”"
    assert "Counts as lowers service" in logged(ticket)


def test_written_down_once() -> None:
    ticket = ticket_with_steps("lowers-off", "oil-in-legs")
    record_services_done(ticket=ticket, by=None)
    record_services_done(ticket=ticket, by=None)
    assert ServiceDone.objects.count() == 1


def test_steps_that_make_up_no_service_are_none() -> None:
    assert levels_ticked(ticket_with_steps("lowers-off")) == {}
    assert levels_ticked(ticket_with_steps("lowers-off", "oil-in-legs", checklist="other", outcome="left_out")) == {}


def test_a_tick_taken_back_does_not_count() -> None:
    ticket = ticket_with_steps("lowers-off", "oil-in-legs")
    tick = Tick.objects.get(step__key="oil-in-legs")
    TickFactory.create(run=tick.run, step=tick.step, outcome=Tick.Outcome.TAKEN_BACK)
    assert levels_ticked(ticket) == {}


@pytest.mark.parametrize(
    ("checklist", "steps", "levels"),
    [
        (
            "sits-low",
            {"lowers-off", "oil-in-legs", "air-spring-out", "grease-spring", "air-spring-in"},
            ("lowers", "spring"),
        ),
        ("shock-air-can-service", {"shock-can-off", "shock-new-can-seals", "shock-can-on"}, ("spring",)),
        ("no-rebound-control", {"rebuild-damper", "lowers-off", "oil-in-legs"}, ("lowers", "full")),
        ("no-rebound-control", {"rebuild-damper"}, ()),
    ],
)
def test_levels_by_steps(checklist: str, steps: set[str], levels: tuple[str, ...]) -> None:
    assert levels_done(shipped_folder().checklist(checklist).steps, {"spring_kind": "air"}, steps) == levels


def test_what_does_not_apply_to_the_unit_is_no_part_of_its_service() -> None:
    steps = shipped_folder().checklist("sits-low").steps
    every_step = {step.key for step in steps}
    assert levels_done(steps, {"spring_kind": "air"}, every_step) == ("lowers", "spring")
    assert levels_done(steps, {"spring_kind": "coil"}, every_step) == ("lowers",)


def test_a_larger_service_takes_in_the_smaller() -> None:
    assert set(levels_covering("lowers")) == {"lowers", "spring", "full"}
    assert levels_covering("full") == ("full",)


def test_the_counter_corrects() -> None:
    ticket = ticket_with_steps("lowers-off", "oil-in-legs", state=Ticket.State.HANDED_BACK)
    moved = dt.datetime(2026, 5, 4, 15, tzinfo=dt.UTC)
    StateMove.objects.create(ticket=ticket, from_state="ready", to_state="handed_back", at=moved)
    record_services_done(ticket=ticket, by=None, on=moved.date())
    correct_services_done(ticket=ticket, levels=["spring"], by=None)
    (service,) = ServiceDone.objects.all()
    assert (service.level, service.on) == ("spring", moved.date())
    assert changed(ticket.events.get(kind="services_corrected")) == {"Services": ["lowers service", "spring service"]}


def test_a_ticket_that_is_not_back_cannot_be_corrected() -> None:
    with pytest.raises(ValidationError, match="Hand the unit back first"):
        correct_services_done(ticket=TicketFactory.create(), levels=["lowers"], by=None)


def test_a_service_to_come_is_refused() -> None:
    unit = SuspensionUnitFactory.create()
    with pytest.raises(ValidationError, match="still to come"):
        note_service_elsewhere(
            unit=unit, level="full", on=timezone.localdate() + dt.timedelta(days=1), told_by="customer", by=None
        )


def test_the_models_interval_with_its_source() -> None:
    unit = SuspensionUnitFactory.create()
    with_interval(unit, hours=50, months=6)
    (rule,) = standing_of(unit, TODAY).rules
    assert (rule.level, rule.hours, rule.months, rule.is_own) == ("lowers", 50.0, 6, False)
    assert "Invented manual for tests" in rule.source
    assert not rule.is_checked


def test_the_units_own_interval_goes_first_and_can_go_back() -> None:
    unit = SuspensionUnitFactory.create()
    with_interval(unit, hours=50)
    own = set_rule(unit=unit, level="lowers", hours=30.0, months=None, source="Shop's rule", by=None)
    assert [rule.hours for rule in standing_of(unit, TODAY).rules] == [30.0]
    set_rule(unit=unit, level="lowers", hours=None, months=None, source="Back to the manual", by=None, seen_rule=own.pk)
    assert [rule.hours for rule in standing_of(unit, TODAY).rules] == [50.0]
    assert UnitRule.objects.count() == 2


def test_two_at_one_rule_get_a_choice() -> None:
    unit = SuspensionUnitFactory.create()
    set_rule(unit=unit, level="full", hours=200.0, months=None, source="one", by=None)
    with pytest.raises(StaleVersion):
        set_rule(unit=unit, level="full", hours=100.0, months=None, source="other", by=None)
    newest = newest_rule(unit, "full")
    assert newest is not None
    assert newest.source == "one"


def test_a_rule_without_source_is_refused() -> None:
    with pytest.raises(ValidationError, match="source"):
        set_rule(unit=SuspensionUnitFactory.create(), level="full", hours=1.0, months=None, source=" ", by=None)


def test_counts_from_the_last_service_that_takes_it_in() -> None:
    unit = SuspensionUnitFactory.create()
    with_interval(unit, months=6)
    for level, day in (("lowers", dt.date(2026, 1, 1)), ("full", dt.date(2026, 3, 1))):
        note_service_elsewhere(unit=unit, level=level, on=day, told_by="customer", by=None)
    (forecast,) = standing_of(unit, TODAY).forecasts
    assert forecast.counted_from == dt.date(2026, 3, 1)
    assert forecast.due == dt.date(2026, 9, 1)
    assert forecast.due_by is DueBy.MONTHS


def test_without_a_service_it_counts_from_the_first_ticket() -> None:
    unit = SuspensionUnitFactory.create()
    with_interval(unit, months=6)
    TicketFactory.create(
        unit=unit, shop=unit.shop, customer=unit.customer, booked_at=dt.datetime(2026, 2, 3, tzinfo=dt.UTC)
    )
    (forecast,) = standing_of(unit, TODAY).forecasts
    assert forecast.counted_from == dt.date(2026, 2, 3)
    assert not forecast.after_service


def test_no_interval_no_forecast() -> None:
    standing = standing_of(SuspensionUnitFactory.create(), TODAY)
    assert standing.forecasts == []
    assert standing.next is None
    assert [line.rule for line in standing.lines] == [None, None, None]


def test_standings_of_many_take_the_same_queries(django_assert_num_queries: Any) -> None:
    shop, model = ShopFactory.create(), SuspensionModelFactory.create()
    units = [SuspensionUnitFactory.create(shop=shop, model=model) for _ in range(8)]
    with_interval(units[0], hours=50)
    for unit in units:
        WeeklyHours.objects.create(unit=unit, hours_per_week=2, since=dt.date(2026, 1, 1), at=timezone.now())
        note_service_elsewhere(unit=unit, level="lowers", on=dt.date(2026, 2, 1), told_by="x", by=None)
    with django_assert_num_queries(9):
        assert len(standings_of(units[:2], shop, TODAY)) == 2
    with django_assert_num_queries(9):
        assert len(standings_of(units, shop, TODAY)) == 8


def test_the_life_of_a_unit_takes_the_same_queries(django_assert_max_num_queries: Any) -> None:
    unit = SuspensionUnitFactory.create()
    for number in range(5):
        ticket = ticket_with_steps(
            f"look-{number}",
            checklist=f"sits-low-{number}",
            outcome="found",
            unit=unit,
            shop=unit.shop,
            customer=unit.customer,
            state="handed_back",
        )
        ticket.settings_records.create(moment="arrival", rest_travel_m=0.02 + number / 1000, at=timezone.now())
    with django_assert_max_num_queries(20):
        life = life_of(unit, unit.shop, TODAY)
    assert len(life.findings) == 5
    assert next(moment.values[0][1] for moment in life.trend.moments) == "24 mm"
    assert life.trend.rest is not None
    assert len(life.trend.rest.marks) == 5


def test_the_life_is_shown_with_services_findings_and_settings() -> None:
    from django.template.loader import render_to_string

    unit = SuspensionUnitFactory.create()
    with_interval(unit, hours=50, months=6)
    for number in range(3):
        ticket = ticket_with_steps(
            f"look-{number}",
            checklist=f"c-{number}",
            outcome="found",
            unit=unit,
            shop=unit.shop,
            customer=unit.customer,
            state="handed_back",
        )
        ticket.settings_records.create(moment="arrival", rest_travel_m=0.02, rebound_clicks=7, at=timezone.now())
    note_service_elsewhere(unit=unit, level="lowers", on=dt.date(2026, 2, 1), told_by="the customer", by=None)
    shown = render_to_string("counter/_unit_life.html", {"life": life_of(unit, unit.shop, TODAY), "unit": unit})
    for words in (
        "50 h or 6 months",
        "1 Aug",
        "7 of 6 months since 1 February",
        "Look at the seals",
        "20 mm",
        "<svg",
        'text-anchor="middle">Rest depth, mm<',
    ):
        assert words in squeezed(shown)


def signed_in(role: str = "counter") -> tuple[Client, Any]:
    user = UserFactory.create(role=role)
    client = Client()
    client.force_login(user)
    return client, user


def test_staff_note_weekly_hours_and_see_the_forecast() -> None:
    client, user = signed_in()
    unit = SuspensionUnitFactory.create(shop=user.shop)
    with_interval(unit, hours=50)
    typed = {"hours_per_week": "4", "conditions": "dry", "since": "2026-01-05", "said_by": "customer"}
    answer = client.post(reverse("intervals:weekly", args=[unit.pk]), typed, follow=True)
    assert "4 h a week" in answer.content.decode()
    assert WeeklyHours.objects.get().by == user


def test_the_weekly_hours_end_when_the_unit_is_passed_on() -> None:
    unit = SuspensionUnitFactory.create()
    say_weekly_hours(unit=unit, hours_per_week=7.0, since=timezone.localdate() - dt.timedelta(days=60), by=None)
    new_owner = CustomerFactory.create(shop=unit.shop)
    give_to(unit=unit, customer=new_owner, on=timezone.localdate() - dt.timedelta(days=30), by=None)
    history = histories_of([unit.pk])[unit.pk]
    assert history.figure_on(timezone.localdate()) is None
    assert sum(s.hours for s in history.stretches(dt.date(2020, 1, 1), timezone.localdate())) == pytest.approx(30.0)


def test_hours_cannot_be_said_for_the_time_of_the_owner_before() -> None:
    unit = SuspensionUnitFactory.create()
    today = timezone.localdate()
    give_to(unit=unit, customer=CustomerFactory.create(shop=unit.shop), on=today - dt.timedelta(days=30), by=None)
    with pytest.raises(ValidationError, match="changed hands"):
        say_weekly_hours(unit=unit, hours_per_week=2.0, since=today - dt.timedelta(days=31), by=None)
    say_weekly_hours(unit=unit, hours_per_week=2.0, since=today - dt.timedelta(days=30), by=None)


def test_the_counter_of_the_new_owner_may_show_less() -> None:
    unit = SuspensionUnitFactory.create()
    today = timezone.localdate()
    read_counter(unit=unit, on=today - dt.timedelta(days=60), counter_hours=900.0, by=None)
    give_to(unit=unit, customer=CustomerFactory.create(shop=unit.shop), on=today - dt.timedelta(days=30), by=None)
    read_counter(unit=unit, on=today - dt.timedelta(days=29), counter_hours=12.0, by=None)
    with pytest.raises(ValidationError, match="Read it again"):
        read_counter(unit=unit, on=today, counter_hours=11.0, by=None)


def test_given_to_its_own_owner_nothing_changes_hands() -> None:
    unit = SuspensionUnitFactory.create()
    give_to(unit=unit, customer=unit.customer, on=timezone.localdate(), by=None)
    assert not unit.changes_of_owner.exists()


def test_a_wrong_figure_stays_in_the_field() -> None:
    client, user = signed_in()
    unit = SuspensionUnitFactory.create(shop=user.shop)
    answer = client.post(reverse("intervals:weekly", args=[unit.pk]), {"hours_per_week": "plenty"})
    assert answer.status_code == 422
    assert "plenty" in answer.content.decode()
    assert not WeeklyHours.objects.exists()


def test_another_shops_unit_is_not_there() -> None:
    client, _ = signed_in("owner")
    assert client.get(reverse("intervals:unit", args=[SuspensionUnitFactory.create().pk])).status_code == 404


def test_a_mechanic_reads_and_does_not_write() -> None:
    client, user = signed_in("mechanic")
    unit = SuspensionUnitFactory.create(shop=user.shop)
    assert client.get(reverse("intervals:unit", args=[unit.pk])).status_code == 200
    assert client.post(reverse("intervals:weekly", args=[unit.pk]), {}).status_code == 403


def test_a_rule_set_meanwhile_is_shown_beside_what_was_typed() -> None:
    client, user = signed_in()
    unit = SuspensionUnitFactory.create(shop=user.shop)
    set_rule(unit=unit, level="full", hours=200.0, months=None, source="the other clerk", by=None)
    typed = {"hours": "90", "months": "", "source": "mine", "seen_rule": "0"}
    answer = client.post(reverse("intervals:rule", args=[unit.pk, "full"]), typed)
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "the other clerk" in page
    assert 'value="mine"' in page


def test_the_counter_corrects_on_its_page() -> None:
    client, user = signed_in()
    ticket = TicketFactory.create(shop=user.shop, state=Ticket.State.HANDED_BACK)
    StateMove.objects.create(ticket=ticket, from_state="ready", to_state="handed_back", at=timezone.now())
    address = reverse("intervals:ticket_services", args=[ticket.number])
    assert client.get(address).status_code == 200
    assert client.post(address, {"levels": ["lowers", "spring"]}).status_code == 302
    assert set(ServiceDone.objects.values_list("level", flat=True)) == {"lowers", "spring"}
