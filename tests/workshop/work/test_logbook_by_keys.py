"""The logbook holds keys: whatever things are called on screen, figures, erasure and histories stay as they are."""

from __future__ import annotations

import ast
import datetime as dt
import importlib
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from decimal import Decimal
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from django.apps import apps
from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from specs.models import Part, ServiceKit
from tests.factories import CustomerFactory, PartFactory, PartLineFactory, TicketFactory, UserFactory
from tests.logbook import changed, logged, said
from workshop.charges.models import Agreement
from workshop.issued.models import Document
from workshop.office.figures.period import Period
from workshop.office.figures.sources import visits_of
from workshop.privacy.erasing import erase_customer
from workshop.privacy.scrubbing import ERASED
from workshop.tickets.booking import Agreed
from workshop.tickets.editing import edit_ticket
from workshop.tickets.logbook import log
from workshop.tickets.models import SettingsRecord, Ticket, TicketEvent
from workshop.tickets.settings_record import LABELS, Settings, record_settings
from workshop.torque.models import BOLT_LABELS
from workshop.work import event_words
from workshop.work.moves import move
from workshop.work.part_lines import set_quantity, use_part_line

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)
# One of each kind, as the code writes it.
SAMPLES: dict[str, dict[str, Any]] = {
    "booked_in": {},
    "noted": {"words": "Wants the old spring back"},
    "rang": {"time": "14:10", "outcome": "no_answer", "words": "again at five"},
    "told_ready": {"way": "ready_text", "price": "115.00 EUR"},
    "told_ready_again": {},
    "moved": {"from_state": "on_the_bench", "from_waiting_for": "", "to_state": "waiting", "waiting_for": "customer",
              "reason": "rang: no answer, now waiting"},
    "ready_unproved": {"missing": ["Prove that the pressure holds"], "more": 2},
    "back_in_pieces": {"open": ["The lowers are off", "The wheel is out"]},
    "back_unsafe": {"dangers": ["Crack in the crown"], "signed_by": "Odile Novák"},
    "finding_noted": {"finding": "Crown: crack", "kind": "danger"},
    "finding_withdrawn": {"finding": "Crown: crack"},
    "finding_answered": {"finding": "Crown: crack", "how": "declined", "words": "as agreed on the phone"},
    "finding_reopened": {"finding": "Crown: crack"},
    "agreement_changed": {},
    "squeezed_in": {"pushed": [[12, "2026-03-05", "2026-03-09", 2], [14, "2026-03-06", "2026-03-09", 1]]},
    "settings_written": {"moment": "arrival"},
    "settings_corrected": {"moment": "hand_back"},
    "services_counted": {"levels": ["lowers", "spring"]},
    "services_uncounted": {"levels": ["lowers", "spring"]},
    "services_corrected": {},
    "part_quantity": {"part": "Wiper, 34 mm"},
    "part_priced": {"part": "Odd circlip"},
    "warranty_bears": {"line": "Wiper, 34 mm", "warranty": "maker"},
    "warranty_dropped": {"line": "Wiper, 34 mm", "warranty": ""},
    "part_given_up": {"part": "Wiper, 34 mm", "number": 12},
    "batch_out_of_date": {"part": "Fell Fluid 5", "batch": "24-117", "use_by": "2026-05-01"},
    "part_given": {"part": "Wiper, 34 mm", "from": ["12", "14"], "reason": "A race on Sunday"},
    "part_given_away": {"part": "Wiper, 34 mm", "number": 12, "reason": "A race on Sunday"},
    "part_given_back": {"part": "Wiper, 34 mm"},
    "part_swapped": {"part": "Wiper, 34 mm", "other": "Wiper, 34 mm, low friction"},
    "old_part": {"part": "Two wipers", "state": "given", "note": "in a bag"},
    "part_used": {"quantity": "2", "part": "Wiper, 34 mm"},
    "part_dropped": {"quantity": "2.5", "part": "Oil"},
    "part_again": {"quantity": "2", "part": "Wiper, 34 mm"},
    "parts_added": {"parts": [["2", "Wiper, 34 mm"]]},
    "labour_added": {"words": "Lowers service, cleaned", "minutes": 75, "amount": "1200.00", "currency": "EUR"},
    "labour_dropped": {"words": "Lowers service", "minutes": None, "amount": "75.00", "currency": "EUR"},
    "estimate_agreed": {"revision": 1, "amount": "90.00", "currency": "EUR", "how": "phone"},
    "estimate_declined": {"revision": 2, "amount": "1090.00", "currency": "EUR", "how": "page"},
    "charged": {"amount": "90.00", "currency": "EUR"},
    "discount_given": {"reason": "Waited long", "amount": "5.00", "currency": "EUR"},
    "discount_dropped": {"reason": "Waited long", "amount": "5.00", "currency": "EUR"},
    "paid": {"amount": "80.00", "currency": "EUR", "how": "cash"},
    "paid_back": {"amount": "5.00", "currency": "EUR", "how": "card", "reason": "Scratched"},
    "receipt_issued": {"number": "2026-0001"}, "credit_issued": {"number": "C2026-0001"},
    "hand_over_undone": {}, "opened_again": {"reason": "Wrong price"},
    "document_issued": {"kind": "customer_report", "revision": 3},
    "link_made": {"days": 30},
    "link_withdrawn": {},
    "checklist_begun": {"title": "Sits low"},
    "checklist_put_away": {"title": "Sits low"},
    "order_suggested": {"title": "Sits low"},
    "order_handbook": {"title": "Sits low"},
    "minutes_corrected": {"step": "Lowers off, oil out", "minutes": "12.5"},
    "bolt_tightened": {"bolt": "axle", "torque_nm": 12.0, "tool": "TW-1"},
    "bolt_countersigned": {"bolt": "foot_air_leg"},
    "unit_told": {"part": "wheel", "value": "out", "note": "it was in my way"},
    "unit_told_back": {"part": "wheel", "value": "out"},
    "photo_added": {"caption": "Left stanchion"},
    "photo_shown_before": {"caption": "Left stanchion"},
    "photo_shown_after": {"caption": "Left stanchion"},
    "photo_not_shown": {"caption": ""},
    "photo_removed": {"caption": "Left stanchion", "reason": "of another fork"},
    "mark_removed": {"place": "Crown", "text": "scratch: 2 cm", "reason": "it was dirt"},
    "put_right": {"reason": "two of that name"},
    "unit_corrected": {},
    "visit_noted": {},
    "visit_joined": {"number": 12, "beside": 11, "reason": "came together"},
    "visit_split": {"number": 12, "reason": "came later"},
    "customers_merged": {"reason": "one person"},
    "condition_noted": {"place": "Crown", "text": "scratch: 2 cm"},
}  # fmt: skip
CHANGES: dict[str, list[Any]] = {
    "loose": [[], ["axle", "pump"]],
    "loose_words": ["", "red cap"],
    "shelf": ["", "B4"],
    "came": [["counter", "", ""], ["parcel", "Swiftwheel", "00 12 A"]],
    "goes": [["counter", "", ""], ["parcel", "Swiftwheel", ""]],
    "unit_model": ["", "Kestrigan Plume"],
    "unit_described_as": ["Plume", ""],
    "unit_kind": ["fork", "shock"],
    "unit_travel_m": [0.12, 0.13],
    "unit_notes": ["", "Odile's best"],
    **{f"unit_{name}": ["", "left"] for name in ("serial", "air_side")},
    **{
        f"unit_{name}": ["", "yes"]
        for name in ("spring_kind", "damper_kind", "crowns", "inverted", "ramp_chamber", "gas_charge")
    },
    "customer": ["Odile Novák", "Bram Ashdown"],
    "unit": ["Kestrigan Plume, SN1", "Kestrigan Plume, SN2"],
    "bike": ["", "Green hardtail"],
    "complaint_words": ["It sits low", "It sits low, and knocks"],
    "complaints": [[], ["Sits low"]],
    "promised_on": ["2026-11-30", "2026-12-02"],
    "price_ceiling": [None, "1200.00"],
    "price_together": [None, "1200.00"],
    "no_limit_said": [False, True],
    "notes": ["", "Call first"],
    "services": [[], ["lowers", "full"]],
    "quantity": ["1", "2.5"],
    "price_each": [None, "12.50"],
    "pressure_pa": [None, 565370.0],
    "sag_m": [0.02, 0.0215],
    "rest_travel_m": [None, 0.004],
    "rebound_clicks": [None, 7],
    "compression_clicks": [3, 4],
    "high_compression_clicks": [3, None],
    "spacers": [0, 2],
    "remarks": ["", "as it was"],
}


@pytest.fixture
def ticket() -> Ticket:
    customer = CustomerFactory.create(name="Odile Novák", phone="0555-123-456")
    return TicketFactory.create(customer=customer, shop=customer.shop, state="on_the_bench")


@contextmanager
def called_nonsense() -> Iterator[None]:
    """Every label that a line of the logbook can show is the same nonsense."""
    with ExitStack() as stack:
        for choices in (Ticket.State, Ticket.WaitingFor, SettingsRecord.Moment, ServiceKit.Level, Document.Kind,
                        Agreement.How):  # fmt: skip
            for one in choices:
                stack.enter_context(patch.object(one, "_label_", "qwx"))
        stack.enter_context(patch.dict(LABELS, dict.fromkeys(LABELS, "qwx")))
        stack.enter_context(patch.dict(BOLT_LABELS, dict.fromkeys(BOLT_LABELS, "qwx")))
        kinds = {
            key: event_words.EventKind(lambda values, shop: "qwx", kind.personal)
            for key, kind in event_words.KINDS.items()
        }
        fields = {
            key: event_words.ChangedField(lambda: "qwx", field.shown, field.personal)
            for key, field in event_words.FIELDS.items()
        }
        stack.enter_context(patch.dict(event_words.KINDS, kinds))
        stack.enter_context(patch.dict(event_words.FIELDS, fields))
        yield


def a_life(ticket: Ticket, part: Part) -> None:
    """Promise moved, settings corrected, a part used, waiting and back with a reason that names somebody."""
    by = UserFactory.create(shop=ticket.shop, role="mechanic")
    edit_ticket(
        ticket=ticket, by=by, seen_version=ticket.version,
        agreed=Agreed("Odile says it knocks", ticket.promised_on + 2 * DAY, notes="Ring Odile"),
    )  # fmt: skip
    record = record_settings(ticket=ticket, moment="arrival", settings=Settings(rebound_clicks=7), by=by)
    record_settings(ticket=ticket, moment="arrival", by=by, seen_version=record.version,
                    settings=Settings(rebound_clicks=8, remarks="as Odile had it"))  # fmt: skip
    line = PartLineFactory.create(ticket=ticket, part=part, quantity=Decimal(1))
    set_quantity(line=line, quantity=line.quantity + 1, seen=line.quantity, by=by)
    use_part_line(line=line, by=by)
    ticket.refresh_from_db()
    for state, waiting_for, reason in (("waiting", "customer", "his wife Ana decides"), ("on_the_bench", "", "")):
        move(ticket=ticket, to_state=state, waiting_for=waiting_for, by=by, seen_version=ticket.version, reason=reason)
        ticket.refresh_from_db()


def kept(ticket: Ticket) -> list[tuple[Any, ...]]:
    return list(TicketEvent.objects.filter(ticket=ticket).values_list("kind", "values", "text", "changes"))


def test_with_every_label_reworded_the_same_is_kept_counted_and_erased(ticket: Ticket) -> None:
    """The same life twice, once with nonsense for labels: the same rows, figure, and rest after erasing."""
    twin = TicketFactory.create(
        customer=CustomerFactory.create(name="Odile Novák", phone="0555-123-456", shop=ticket.shop), shop=ticket.shop,
        state="on_the_bench", promised_on=ticket.promised_on, complaint_words=ticket.complaint_words,
        notes=ticket.notes, price_ceiling=ticket.price_ceiling,
    )  # fmt: skip
    part = PartFactory.create()
    a_life(ticket, part)
    period = Period(timezone.localdate() - 30 * DAY, timezone.localdate())
    with called_nonsense():
        a_life(twin, part)
        moved = {visit.ticket: visit.promise_moved for visit in visits_of(ticket.shop, period)}
        stays = {visit.ticket: list(visit.stays_days) for visit in visits_of(ticket.shop, period)}
    assert moved == {ticket.pk: True, twin.pk: True}
    assert stays[ticket.pk] == stays[twin.pk] == [("booked_in", ""), ("waiting", "customer")]
    assert kept(twin) == kept(ticket)
    assert all(kind for kind, *_ in kept(ticket))

    for one in (ticket, twin):
        Ticket.objects.filter(pk=one.pk).update(state="called_off")
    erase_customer(customer=ticket.customer, by=None)
    with called_nonsense():
        erase_customer(customer=twin.customer, by=None)
    assert kept(twin) == kept(ticket)
    left = repr(kept(twin)) + " ".join(logged(twin))
    for word in ("odile", "ana", "wife", "0555"):
        assert word not in left.casefold()
    assert "Rebound, clicks from closed" in changed(twin.events.get(kind="settings_corrected"))


def test_every_kind_has_its_words_and_is_written_somewhere(ticket: Ticket) -> None:
    assert set(SAMPLES) == set(event_words.KINDS)
    for kind, values in SAMPLES.items():
        assert len(said(log(ticket=ticket, by=None, kind=kind, values=values))) > 5
    assert set(CHANGES) == set(event_words.FIELDS)
    source = "".join(path.read_text() for path in Path(settings.BASE_DIR, "workshop").rglob("*.py")
                     if path.name != "event_words.py" and "migrations" not in path.parts)  # fmt: skip
    assert [kind for kind in SAMPLES if f'"{kind}"' not in source] == []


def test_no_code_writes_ready_words_into_the_logbook() -> None:
    """A line in words can be neither counted nor erased but whole: give it a kind."""
    found = []
    for path in Path(settings.BASE_DIR, "workshop").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if not isinstance(node, ast.Call):
                continue
            writes = getattr(node.func, "id", "") in {"log", "TicketEvent"}
            if writes and path.name != "logbook.py" and "text" in {word.arg for word in node.keywords}:
                found.append(f"{path.name}:{node.lineno}")
    assert found == []


# The migration of what was written in words


# Written by their keys from their first day.
NEVER_IN_WORDS = {
    "squeezed_in",
    *("noted", "rang", "told_ready", "told_ready_again", "discount_given", "discount_dropped", "paid", "paid_back"),
    *("services_uncounted", "no_limit_said", "receipt_issued", "credit_issued", "hand_over_undone", "opened_again"),
    *("back_in_pieces", "back_unsafe", "finding_answered", "finding_noted", "finding_reopened", "finding_withdrawn"),
    *("part_given", "part_given_away", "part_given_back", "part_swapped", "old_part", "batch_out_of_date"),
    *("warranty_bears", "warranty_dropped"),
    *("part_given_up", "part_priced", "photo_not_shown", "photo_shown_after", "photo_shown_before"),
    *("unit_corrected", *(key for key in CHANGES if key.startswith("unit_"))),
    *("visit_noted", "visit_joined", "visit_split", "loose", "loose_words", "shelf", "came", "goes", "price_together"),
    *("photo_removed", "mark_removed", "put_right", "customers_merged", "customer", "unit", "bike"),
    *("price_each", "unit_told", "unit_told_back"),
    *("discount_given", "discount_dropped", "paid", "paid_back", "receipt_issued", "credit_issued"),
    *("hand_over_undone", "opened_again"),
}
MIGRATION = importlib.import_module("workshop.migrations.0027_logbook_words_into_keys")
# What is said today, and what it was when lines were kept in words.
_THEN = {
    "Cancelled": "Called off",
    "Price limit": "Price ceiling",
    "Service report": "Customer report",
    "standard order": "handbook’s order",
    ": second-person check done": " countersigned",
    " removed": " dropped",
    "customer’s answer": "customer's answer",
    "customer’s page": "customer's page",
    "Customer’s words": "Customer's words",
}


def as_then(words: str) -> str:
    for now, then in _THEN.items():
        words = words.replace(now, then)
    return words.replace(" recorded", " written down") if words.startswith("Settings") else words


def test_each_line_in_words_becomes_the_kind_that_wrote_it_and_says_the_same(ticket: Ticket) -> None:
    """What the words say now is what was stored before; if a label is changed one day, take its words of today here."""
    for kind, values in SAMPLES.items():
        if kind in NEVER_IN_WORDS:
            continue
        words = said(log(ticket=ticket, by=None, kind=kind, values=values))
        old = log(ticket=ticket, by=None, text=as_then(words))
        MIGRATION.into_keys(apps, None)
        old.refresh_from_db()
        assert (old.kind, old.values, old.text) == (kind, values, ""), words


def test_each_change_in_words_becomes_keys_and_shows_the_same(ticket: Ticket) -> None:
    for key, values in CHANGES.items():
        if key in NEVER_IN_WORDS:
            continue
        new = log(ticket=ticket, by=None, kind="agreement_changed", changes={key: values})
        old = log(
            ticket=ticket, by=None, text="Agreement changed", changes={as_then(k): v for k, v in changed(new).items()}
        )
        MIGRATION.into_keys(apps, None)
        MIGRATION.into_keys(apps, None)  # twice is once
        old.refresh_from_db()
        assert list(old.changes) == [key]
        assert changed(old) == changed(new)
        assert not any(isinstance(value, dict) for value in old.changes[key])
        assert old.changes[key] == (pytest.approx(values) if None not in values and key == "sag_m" else
                                    [pytest.approx(v) if isinstance(v, float) else v for v in values])  # fmt: skip


def test_what_cannot_be_read_back_is_kept_shown_as_it_is_and_erased(ticket: Ticket) -> None:
    words = "Odile's wife Ana rang, now Ready: she pays"
    cut = "Condition noted. Crown: " + "x" * 276
    for text in (words, cut, "On the bench, then Ready"):
        log(ticket=ticket, by=None, text=text)
    log(ticket=ticket, by=None, text="Agreement changed",
        changes={"Promised for": ["Monday", "Tue 1 Dec 2026"], "Pressure": ["soft, says Ana", "not read"],
                 "Ana's phone": ["1", "2"]})  # fmt: skip
    MIGRATION.into_keys(apps, None)
    lines = list(TicketEvent.objects.order_by("pk"))
    assert [said(line) for line in lines] == [words, cut, "On the bench, then Ready", "Agreement changed"]
    assert changed(lines[-1]) == {
        "Promised for": ["Monday", "Tue 1 Dec 2026"],
        "Pressure": ["soft, says Ana", "not read"],
        "Ana's phone": ["1", "2"],
    }
    assert "promised_on" in lines[-1].changes, "still a promise that was moved"
    Ticket.objects.update(state="called_off")
    erase_customer(customer=ticket.customer, by=None)
    lines = list(TicketEvent.objects.order_by("pk"))
    assert [said(line) for line in lines] == [ERASED, ERASED, ERASED, "Agreement changed"]
    assert changed(lines[-1]) == {
        "Promised for": [ERASED, "Tue 1 Dec 2026"],
        "Pressure": [ERASED, "not read"],
        ERASED: [ERASED, ERASED],
    }


def test_the_page_shows_the_logbook_in_words(ticket: Ticket, client: Any) -> None:
    client.force_login(UserFactory.create(shop=ticket.shop, role="counter"))
    a_life(ticket, PartFactory.create())
    log(ticket=ticket, by=None, text="In words, from before")
    html = client.get(reverse("counter:logbook", args=[ticket.number])).content.decode()
    for words in ("Rebound, clicks from closed", "In words, from before", "Promised for", "his wife Ana decides",
                  "On the bench, now Waiting for the customer"):  # fmt: skip
        assert words in html
