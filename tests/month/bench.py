"""The bench of the played month: two mechanics work by the order of promises for as long as the calendar has them."""

from __future__ import annotations

from collections.abc import Iterator

from diagnosis.models import Step, Tick
from diagnosis.steps import steps_of
from specs.models import StandIn
from tests.month.counter import estimate
from tests.month.the_play import Job, Play
from workshop.charges.labour import charge_minutes, charge_service
from workshop.models import PartLine, Ticket, TicketRun, User
from workshop.promise.capacity import bench_of, capacity_of
from workshop.stock.moving import level_of
from workshop.stock.shortages import stores_standing
from workshop.work.adding_parts import add_from_kit
from workshop.work.moves import move
from workshop.work.part_lines import KeptForOthers, drop_part_line, swap_part, use_part_line
from workshop.work.sent import Sent
from workshop.work.ticking import answer_step
from workshop.work.unresolved import unresolved_lines
from workshop.work.work import start_checklist, take_onto_the_bench

USUAL_MINUTES = 60.0
IN_WORK = ("booked_in", "on_the_bench", "waiting")


def work(play: Play) -> None:
    """The hours that the calendar gives today, shared as work comes; who has the most left takes the next."""
    bench = bench_of(capacity_of(play.made.shop), play.today)
    left = {one.key: one.minutes_on(play.today) for one in bench.people}
    people = {one.pk: one for one in play.made.mechanics}
    passed_over: set[int] = set()
    while any(minutes > 0 for minutes in left.values()):
        ticket = _next(play, passed_over)
        if ticket is None:
            return
        key = max(left, key=lambda one: left[one])
        taken = _work_on(play, ticket, people[key], left[key])
        left[key] -= taken
        if not taken:
            passed_over.add(ticket.pk)


def _next(play: Play, passed_over: set[int]) -> Ticket | None:
    tickets = Ticket.objects.filter(shop=play.made.shop, state__in=IN_WORK).exclude(
        state="waiting", waiting_for="customer"
    )
    return tickets.exclude(pk__in=passed_over).order_by("promised_on", "number").first()


def _work_on(play: Play, ticket: Ticket, by: User, minutes: float) -> float:
    """Until it is ready, lacks something or the hours are over; how many minutes that took, 0 where it cannot go on."""
    job = play.jobs[ticket.pk]
    if ticket.state == "booked_in":
        _begin(play, job, ticket, by)
    elif ticket.state == "waiting":
        _swap(play, ticket, by)
        if ticket.pk not in stores_standing(play.made.shop).parts_here():
            return 0.0
        move(ticket=ticket, to_state="on_the_bench", by=by, seen_version=ticket.version)
    spent = 0.0
    for step in _steps(play, job, ticket):
        if (step is None or step.kind == "work") and not _may_go_on(play, job, ticket, by):
            return spent
        planned = USUAL_MINUTES if step is None else step.minutes
        now = min(planned - job.minutes_into, minutes - spent)
        spent, job.minutes_into = spent + now, job.minutes_into + now
        play.clock.wait(now / len(play.made.mechanics))
        if job.minutes_into < planned:
            return spent
        job.minutes_into = 0.0
        if step is not None:
            _tick(play, job, ticket, step, by)
    _finish(play, job, ticket, by)
    return spent or 0.001


def _begin(play: Play, job: Job, ticket: Ticket, by: User) -> None:
    take_onto_the_bench(ticket=ticket, by=by, seen_version=ticket.version)
    for complaint in ticket.complaints.all():
        checklist = next(one for one in (play.made.service, *play.made.searches) if one.complaint_id == complaint.pk)
        start_checklist(ticket=ticket, checklist=checklist, by=by)
    if job.is_service:
        add_from_kit(ticket=ticket, level="lowers", by=by)


def _steps(play: Play, job: Job, ticket: Ticket) -> Iterator[Step | None]:
    """What is still to do, asked anew after each: checks until the cause is found, then the work. None: no list."""
    row = TicketRun.objects.filter(ticket=ticket).select_related("run__checklist").first()
    if row is None:
        yield None
        return
    run = row.run
    done = set(Tick.objects.filter(run=run).values_list("step__key", flat=True))
    found = Tick.objects.filter(run=run, outcome="found").exists()
    for step in steps_of(run.checklist):
        if step.key in done or (step.kind == "check" and found):
            continue
        yield step
        found = found or (step.kind == "check" and job.cause in step.ends_search)


def _tick(play: Play, job: Job, ticket: Ticket, step: Step, by: User) -> None:
    run = TicketRun.objects.select_related("run").get(ticket=ticket).run
    found = step.kind == "check" and job.cause in step.ends_search
    outcome = "found" if found else "ruled_out" if step.kind == "check" else "done"
    sent = Sent(outcome, run.version, play.id(), cause_key=job.cause if found else "")
    answer_step(shop=play.made.shop, number=ticket.number, run_pk=run.pk, step_key=step.key, by=by, sent=sent)
    play.done["ticks"] += 1
    if found:
        play.strike([ticket.pk])
        play.look()


def _may_go_on(play: Play, job: Job, ticket: Ticket, by: User) -> bool:
    """Before work the customer is asked where that was agreed, and the parts have to be here; they are fitted then."""
    if job.asks_first and job.estimate_pk is None:
        charge_minutes(ticket=ticket, words="Mending", minutes=60, by=by)
        estimate(play, job, ticket)
        return False
    _swap(play, ticket, by)
    for line in unresolved_lines(ticket):
        if not _fit(play, line, by):
            ticket.refresh_from_db()
            move(ticket=ticket, to_state="waiting", waiting_for="parts", by=by, seen_version=ticket.version)
            play.done["waited for parts"] += 1
            return False
    return True


def _swap(play: Play, ticket: Ticket, by: User) -> None:
    """What is no longer made, and is used up, is swapped for what took its place, once the stores have enough of it."""
    for line in unresolved_lines(ticket):
        after = StandIn.objects.filter(part=line.part, kind="superseded").select_related("other").first()
        if after is not None and not _is_there(play, line.part_id, line) and _is_there(play, after.other_id, line):
            swap_part(line=line, other=after.other, by=by)
            play.done["swapped"] += 1


def _fit(play: Play, line: PartLine, by: User) -> bool:
    """One in a hundred is not needed after all. What is kept for others is seldom taken, and then somebody said so."""
    if play.chance.random() < 0.01:
        drop_part_line(line=line, by=by)
        play.done["not needed"] += 1
        return True
    if not _is_there(play, line.part_id, line):
        return False
    try:
        use_part_line(line=line, by=by)
    except KeptForOthers as kept:
        if play.chance.random() < 0.7:
            return False
        use_part_line(line=line, by=by, taking_from=kept.numbers)
        play.strike(Ticket.objects.filter(shop=play.made.shop, number__in=kept.numbers).values_list("pk", flat=True))
        play.done["taken from others"] += 1
        play.look()
    play.done["parts used"] += 1
    return True


def _is_there(play: Play, part_pk: int | None, line: PartLine) -> bool:
    """Whether the shelf has as many of a part as the line wants, whoever they are kept for."""
    item = play.made.items.get(part_pk or 0)
    return item is not None and level_of(item) >= line.quantity


def _finish(play: Play, job: Job, ticket: Ticket, by: User) -> None:
    if job.is_service:
        charge_service(ticket=ticket, level="lowers", by=by)
    elif job.estimate_pk is None:
        charge_minutes(ticket=ticket, words="Found and put right", minutes=60, by=by)
    ticket.refresh_from_db()
    move(ticket=ticket, to_state="ready", by=by, seen_version=ticket.version, without_proof=True, reason="Ridden round")
    play.done["ready"] += 1
