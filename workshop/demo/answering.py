"""What the demo's mechanics found beside a cause, what answered it, and the bolts they tightened; all invented."""

from __future__ import annotations

import uuid
from collections.abc import Mapping

from diagnosis.layout_plans import BOLTS, BY_THE_WAY, DANGER
from diagnosis.models import Tick
from workshop.staff.models import Shop, User
from workshop.tickets.models import FindingAnswer, Ticket
from workshop.torque.bolts import record_bolt
from workshop.torque.models import TorqueTool
from workshop.work.finding_answers import answer_finding, note_finding
from workshop.work.findings import findings_on, open_findings, what_came_after
from workshop.work.work import fork_values, run_states

SMALL_WRENCH = "TW-1"
# In N·m, where the demo's specs name none.
USUAL_NM: Mapping[str, float] = {
    "foot_air_leg": 8,
    "foot_damper_leg": 8,
    "axle": 12,
    "caliper": 7,
    "stem": 6,
    "upper_crown": 7,
    "lower_crown": 9,
    "steerer_clamp": 8,
}


def record_bolts(ticket: Ticket, by: User) -> None:
    """Each critical bolt that a step tightened, to what is wanted, with the shop's small wrench."""
    tool = TorqueTool.objects.filter(shop=ticket.shop, number=SMALL_WRENCH).first()
    values = fork_values(ticket).values
    done = Tick.objects.filter(run__in=ticket.ticket_runs.values("run"), outcome__in=("done", "proved"))
    bolts = {bolt: tick for tick in done.select_related("step", "run").order_by("pk") for bolt in tick.step.bolts}
    for bolt, tick in bolts.items():
        value = values.get(BOLTS[bolt])
        torque_nm = value.magnitude_si if value and value.magnitude_si else USUAL_NM[bolt]
        record_bolt(
            ticket=ticket, bolt=bolt, typed=f"{torque_nm:g} N·m", by=by, client_id=uuid.uuid4(), tool=tool,
            run=tick.run, step=tick.step,
        )  # fmt: skip


def answer_findings(ticket: Ticket, by: User) -> None:
    """What the checklist does not answer by itself was put right by a part, else by the last step that was done."""
    states = run_states(ticket)
    for finding in open_findings(findings_on(ticket, states)):
        after = what_came_after(ticket, finding, states)
        if after:
            answer_finding(
                ticket=ticket, states=states, token=finding.token, how=FindingAnswer.How.MENDED, by=by,
                client_id=uuid.uuid4(), put_right_by=after[-1].value,
            )  # fmt: skip


def make_findings(*, shop: Shop, staff: Mapping[str, User]) -> None:
    """One finding by the way on the bench, and one dangerous that the customer declined on a ticket that is ready."""
    tickets = Ticket.objects.with_names().select_related("shop").filter(shop=shop)
    mechanic = staff["mechanic"]
    on_the_bench = tickets.filter(state=Ticket.State.ON_THE_BENCH).last()
    if on_the_bench is not None:
        note_finding(
            ticket=on_the_bench, kind=BY_THE_WAY, place="Knobs", text="Chipped, it still turns", by=mechanic,
            client_id=uuid.uuid4(),
        )  # fmt: skip
    ready = tickets.filter(state=Ticket.State.READY, unit__kind="fork").last()
    if ready is not None:
        noted = note_finding(
            ticket=ready, kind=DANGER, place="Crown and steerer", text="Hairline crack under the left stanchion",
            by=mechanic, client_id=uuid.uuid4(),
        )  # fmt: skip
        answer_finding(
            ticket=ready, states=run_states(ready), token=f"free-{noted.pk}", how=FindingAnswer.How.DECLINED,
            by=staff["counter"], client_id=uuid.uuid4(),
            words="A new upper assembly is too dear now. The customer takes it home and will not ride it.",
        )  # fmt: skip
