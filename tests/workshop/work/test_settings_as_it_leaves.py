"""The settings as it leaves: one set, the last one read, on report, work order, customer's page, form and card."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import Reading, Tick
from tests.factories import (
    ChecklistFactory,
    ReadingFactory,
    RunFactory,
    SettingsRecordFactory,
    StepFactory,
    TicketRunFactory,
    TickFactory,
)
from tests.sucked_down import sucked_down_ticket
from workshop.documents import customer_report, work_order
from workshop.models import Ticket
from workshop.portal.page import customer_page
from workshop.staff.models import User
from workshop.work.leaving import settings_as_it_leaves
from workshop.work.unresolved import PartAnswer, resolve_parts, unresolved_lines
from workshop.work.work import run_states

pytestmark = pytest.mark.django_db
PSI = 6894.757293168361
UNITS = {"pressure": "psi", "length": "mm", "clicks": "clicks"}
READ = {"pressure_set": (78 * PSI, "pressure"), "sag": (0.028, "length"), "rebound_clicks": (9.0, "clicks")}


@pytest.fixture
def ticket() -> Ticket:
    """The demo's fork, ready: 7 clicks on arrival, and after the work 78 psi, 28 mm of 160 and 9 clicks."""
    ticket = sucked_down_ticket()
    kept = [PartAnswer(line.pk, None, line.quantity) for line in unresolved_lines(ticket)]
    resolve_parts(ticket=ticket, answers=kept, by=None)  # nothing is ready before each part is answered for
    Ticket.objects.filter(pk=ticket.pk).update(state=Ticket.State.READY)
    run = RunFactory.create(checklist=ChecklistFactory.create(key="proofs"))
    TicketRunFactory.create(ticket=ticket, run=run)
    for position, (key, (magnitude, quantity)) in enumerate(READ.items()):
        plan = {
            "key": key,
            "measures": key,
            "label": key,
            "quantity": quantity,
            "unit": UNITS[quantity],
            "required": True,
        }
        step = StepFactory.create(
            checklist=run.checklist, key=f"prove-{key}", position=position, kind="proof", readings=[plan]
        )
        TickFactory.create(run=run, step=step, outcome=Tick.Outcome.PROVED)
        ReadingFactory.create(run=run, step=step, key=key, magnitude_si=magnitude, typed="as read")
    return fresh(ticket)


def fresh(ticket: Ticket) -> Ticket:
    found: Ticket = Ticket.objects.with_names().select_related("shop").get(pk=ticket.pk)
    return found


def report(ticket: Ticket) -> dict[str, Any]:
    return customer_report.gather_customer_report(fresh(ticket), "https://shop.example/")


def leaving_rows(data: dict[str, Any]) -> dict[str, str]:
    return {row["label"]: row["hand_back"] for row in data["settings"] if row["hand_back"]}


def client_of(role: str) -> Client:
    client = Client()
    client.force_login(User.objects.get(username=role))
    return client


def test_what_the_bench_read_stands_on_every_paper_and_page(ticket: Ticket) -> None:
    rows = leaving_rows(report(ticket))

    assert rows == {
        "Air pressure": rows["Air pressure"],
        "Sag": "28 mm",
        "Rebound, clicks from closed": "9",
    }
    assert leaving_rows(work_order.gather_work_order(fresh(ticket), "https://shop.example/")) == rows
    assert dict(customer_page(fresh(ticket)).settings) == rows
    page = client_of("counter").get(reverse("counter:hand_back", args=[ticket.number]))
    form = page.context["form"]
    assert form.initial["rebound_clicks"] == 9
    assert form.initial["sag_m"] == pytest.approx(0.028)
    assert form.initial["pressure_pa"] == pytest.approx(78 * PSI)
    ticket_page = client_of("counter").get(reverse("counter:ticket", args=[ticket.number])).context["setting_rows"]
    assert {row.label: row.hand_back for row in ticket_page}["Sag"] == "28 mm"


def test_the_set_up_card_names_the_pressure_it_leaves_with(ticket: Ticket) -> None:
    data = report(ticket)

    assert data["set_up"]["pressure"] == leaving_rows(data)["Air pressure"]
    assert data["set_up"]["by_rule"] == ""
    assert "within the range" in data["set_up"]["sentences"][0]


def test_outside_the_range_the_card_says_so_and_names_one_pressure_to_set(ticket: Ticket) -> None:
    Reading.objects.filter(key="sag").update(magnitude_si=0.060)

    card = report(ticket)["set_up"]

    assert "60 mm of sag, outside the range" in card["sentences"][0]
    assert not any("rule of thumb" in sentence for sentence in card["sentences"])
    assert card["pressure"] in " ".join(card["sentences"])


def test_the_last_one_read_counts_from_wherever_it_came(ticket: Ticket) -> None:
    now = timezone.now()
    record = SettingsRecordFactory.create(
        ticket=ticket, moment="hand_back", pressure_pa=90 * PSI, rebound_clicks=11, at=now + dt.timedelta(hours=1)
    )
    assert leaving_rows(report(ticket))["Rebound, clicks from closed"] == "11"
    assert report(ticket)["set_up"] is None  # the sag was read at another pressure

    Reading.objects.filter(key="rebound_clicks").update(read_at=now + dt.timedelta(hours=2))
    rows = leaving_rows(report(ticket))
    assert rows["Rebound, clicks from closed"] == "9"
    assert rows["Sag"] == "28 mm"  # an empty field of the record takes no reading away
    record.delete()


def test_arrival_never_stands_in_for_what_nobody_read(ticket: Ticket) -> None:
    Reading.objects.filter(key__in=READ).filter(step__kind="proof").delete()

    assert leaving_rows(report(ticket)) == {}
    assert report(ticket)["set_up"] is None
    assert customer_page(fresh(ticket)).settings == []


def test_a_proof_taken_back_is_no_reading(ticket: Ticket) -> None:
    tick = Tick.objects.get(step__key="prove-sag", run__checklist__key="proofs")
    TickFactory.create(run=tick.run, step=tick.step, outcome=Tick.Outcome.TAKEN_BACK)

    assert settings_as_it_leaves(fresh(ticket), run_states(fresh(ticket))).settings.sag_m is None


def test_handing_back_keeps_what_the_form_showed(ticket: Ticket) -> None:
    client = client_of("counter")
    address = reverse("counter:hand_back", args=[ticket.number])
    form = client.get(address).context["form"]
    sent = {name: form[name].value() for name in form.fields}
    sent = {name: "" if value is None else str(value) for name, value in sent.items()}
    before = leaving_rows(report(ticket))
    sent |= {"pressure_pa": before["Air pressure"], "sag_m": "28 mm"}

    answer = client.post(address, sent | {"seen_version": fresh(ticket).version, "seen_settings_version": 0})

    assert answer.status_code == 302
    assert fresh(ticket).state == Ticket.State.HANDED_BACK
    assert leaving_rows(report(ticket)) == before
    assert report(ticket)["set_up"]["pressure"] == before["Air pressure"]
