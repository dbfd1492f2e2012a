"""Every move of a ticket with every refusal its rules can raise: each screen answers in words, never with the 500."""

from __future__ import annotations

import ast
import inspect
import itertools
import textwrap
import uuid
from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories import ChecklistFactory, PartLineFactory, ShopFactory, StepFactory, TicketFactory, UserFactory
from workshop.charges.agreeing import OverAgreed
from workshop.models import FreeFinding, LabourLine, Shop, Ticket, User
from workshop.tickets.one_open import OpenElsewhere
from workshop.till.taking import MoneyHeld
from workshop.web.versions import StaleVersion
from workshop.work.findings import Finding
from workshop.work.hand_back import hand_back
from workshop.work.hand_over import hand_over
from workshop.work.in_pieces import InPieces, Pieces
from workshop.work.moves import AgreementMissing, DangerUnanswered, LeftOpen, ProofMissing, UnlawfulMove, move
from workshop.work.part_prices import UnpricedLines
from workshop.work.proof import MissingProof
from workshop.work.unresolved import PartsUnresolved
from workshop.work.unsafe import Unsafe, Unsigned

pytestmark = [pytest.mark.django_db, pytest.mark.any_database]  # what a refusal is answered with
State = Ticket.State

SENT_ONCE = {"client_id": str(uuid.UUID(int=7))}
# Each screen that moves a ticket: its address, the rule as its module knows it, a state to start from, what it sends.
SCREENS: Mapping[str, tuple[str, str, str, Mapping[str, str]]] = {
    "counter, a move": ("counter:move", "workshop.counter.ticket_views.move", "booked_in", {"to": "on_the_bench"}),
    "counter, hand back": ("counter:hand_back", "workshop.counter.hand_over_views.hand_over", "ready", SENT_ONCE),
    "bench, take it": ("bench:take", "workshop.bench.ticket_views.take_onto_the_bench", "booked_in", {}),
    "bench, wait": ("bench:wait", "workshop.bench.ticket_views.move", "on_the_bench", {"waiting_for": "parts"}),
    "bench, work done": ("bench:finish", "workshop.bench.ticket_views.finish_bench_work", "on_the_bench", {}),
}


def _cracked(ticket: Ticket) -> Finding:
    return Finding("free-0", kind="danger", title="Crown", seen="Cracked", note="", by="")


# One of each refusal. A class that the rules raise and that has no line here fails the first test.
REFUSALS: Mapping[type[Exception], Callable[[Ticket], Exception]] = {
    UnlawfulMove: lambda ticket: UnlawfulMove("It stays where it is, says the rule."),
    OpenElsewhere: lambda ticket: OpenElsewhere(TicketFactory(shop=ticket.shop)),
    AgreementMissing: lambda ticket: AgreementMissing(OverAgreed(Decimal("90.00"), Decimal("89.99"), "EUR"), ticket),
    ProofMissing: lambda ticket: ProofMissing([MissingProof("Prove that it holds")]),
    LeftOpen: lambda ticket: LeftOpen([MissingProof("The lowers are off")]),
    DangerUnanswered: lambda ticket: DangerUnanswered([MissingProof("Crown", finding=_cracked(ticket))]),
    Unsigned: lambda ticket: Unsigned(Unsafe(("The crown is cracked",))),
    InPieces: lambda ticket: InPieces(Pieces(("The wheel is out",))),
    PartsUnresolved: lambda ticket: PartsUnresolved([PartLineFactory(ticket=ticket)], ticket.state),
    UnpricedLines: lambda ticket: UnpricedLines([PartLineFactory(ticket=ticket)]),
    MoneyHeld: lambda ticket: MoneyHeld(Decimal("50.00"), "EUR"),
    StaleVersion: lambda ticket: StaleVersion(Ticket.objects.select_related("shop").get(pk=ticket.pk)),
    ValidationError: lambda ticket: ValidationError("That cannot be, says the record."),
}
WORDS: Mapping[type[Exception], str] = {
    UnlawfulMove: "It stays where it is, says the rule.",
    OpenElsewhere: "in the shop already, on ticket",
    AgreementMissing: "come to 90.00 EUR, the customer agreed to 89.99 EUR",
    ProofMissing: "Prove that it holds",
    LeftOpen: "The lowers are off",
    DangerUnanswered: "then it is handed back unsafe",
    Unsigned: "The crown is cracked",
    InPieces: "The wheel is out",
    PartsUnresolved: "Which parts were used?",
    UnpricedLines: "no price",
    MoneyHeld: "50.00 EUR more was paid than it comes to",
    StaleVersion: "changed this",
    ValidationError: "That cannot be, says the record.",
}


def raised_by(function: Any, seen: set[Any] | None = None) -> Iterator[tuple[type[BaseException], str]]:
    """Classes that a function of the project raises, itself or through what it calls by name, and where."""
    seen = set() if seen is None else seen
    function = inspect.unwrap(function)
    if function in seen or not inspect.isfunction(function):
        return
    seen.add(function)
    known = {**vars(inspect.getmodule(function)), **inspect.getclosurevars(function).nonlocals}
    where = f"{function.__module__}.{function.__qualname__}"
    for node in ast.walk(ast.parse(textwrap.dedent(inspect.getsource(function)))):
        if isinstance(node, ast.Raise) and node.exc is not None:
            raised = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
            found = known.get(raised.id) if isinstance(raised, ast.Name) else None
            if isinstance(found, type):
                yield found, where
        if isinstance(node, ast.Call):
            called = known.get(node.func.id) if isinstance(node.func, ast.Name) else None
            if getattr(node.func, "attr", "") == "full_clean":
                yield ValidationError, where
            if str(getattr(called, "__module__", "")).split(".")[0] in {"workshop", "diagnosis", "specs"}:
                yield from raised_by(called, seen)


@pytest.mark.parametrize("rule", [move, hand_back, hand_over])
def test_each_class_that_a_rule_raises_is_one_that_is_tried_here(rule: Any) -> None:
    found = dict(raised_by(rule))
    assert {UnlawfulMove, AgreementMissing, ProofMissing, OpenElsewhere, PartsUnresolved, StaleVersion} <= set(found)
    strange = {error.__name__: where for error, where in found.items() if error not in REFUSALS}
    assert strange == {}


@pytest.fixture
def shop() -> Shop:
    made: Shop = ShopFactory()
    return made


@pytest.fixture
def owner(client: Client, shop: Shop) -> User:
    """The owner may press everything."""
    made: User = UserFactory(shop=shop, owner=True)
    client.force_login(made)
    client.raise_request_exception = False  # what reaches the 500 page is to be seen as that
    return made


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.__name__)
@pytest.mark.parametrize("screen", SCREENS)
def test_every_screen_answers_every_refusal(
    client: Client, owner: User, shop: Shop, monkeypatch: pytest.MonkeyPatch, screen: str, refusal: type[Exception]
) -> None:
    route, rule, state, sent = SCREENS[screen]
    ticket = TicketFactory(shop=shop, state=state)
    _unproved(ticket)
    error = REFUSALS[refusal](ticket)

    def refuse(**_: Any) -> None:
        raise error

    monkeypatch.setattr(rule, refuse)
    typed = {"seen_version": "1", "version": "1", "reason": "Typed at length", "remarks": "Read with care"}
    page = client.post(reverse(route, args=[ticket.number]), {**typed, **sent})
    assert page.status_code in (409, 422), page.status_code
    text = page.content.decode()
    asks = screen in ("counter, a move", "counter, hand back", "bench, work done")
    assert (WORDS[refusal] if asks or refusal is not PartsUnresolved else str(error)) in text
    assert {"counter:hand_back": "Read with care", "bench:take": ""}.get(route, "Typed at length") in text
    assert "The customer declined" not in text, "nobody was asked"


# What may be the matter with a ticket, so that its rules refuse.
def _nothing(ticket: Ticket) -> None:
    pass


def _too_dear(ticket: Ticket) -> None:
    Ticket.objects.filter(pk=ticket.pk).update(price_ceiling=Decimal(10))
    LabourLine.objects.create(ticket=ticket, words="Extra work", price=Decimal(90), at=timezone.now())


def _parts(ticket: Ticket) -> None:
    PartLineFactory(ticket=ticket)


def _unproved(ticket: Ticket) -> None:
    checklist = ChecklistFactory()
    StepFactory(checklist=checklist, kind="proof", title="Prove that it holds")
    ticket.complaints.add(checklist.complaint)


def _open_twice(ticket: Ticket) -> None:
    TicketFactory(
        shop=ticket.shop, customer=ticket.customer, unit=ticket.unit,
        doubled_at=timezone.now() if ticket.is_open else None,
    )  # fmt: skip


def _beyond_the_books(ticket: Ticket) -> None:
    for _ in range(2):
        PartLineFactory(ticket=ticket, quantity=Decimal("999999.99"), unit_price=Decimal("9999999.99"), status="used")


def _dangerous(ticket: Ticket) -> None:
    FreeFinding.objects.create(ticket=ticket, kind="danger", place="Crown", text="Cracked", at=timezone.now())


def _everything(ticket: Ticket) -> None:
    for matter in (_too_dear, _parts, _unproved, _open_twice, _dangerous):
        matter(ticket)


MATTERS = (_nothing, _too_dear, _parts, _unproved, _open_twice, _dangerous, _beyond_the_books, _everything)
PRESSES: tuple[tuple[str, Mapping[str, str]], ...] = (
    *(("counter:move", {"to": to}) for to in (*State.values, "waiting:parts", "waiting:customer", "nowhere", "")),
    ("counter:hand_back", {"remarks": "As it came", "seen_settings_version": "0"}),
    ("bench:take", {}),
    ("bench:wait", {"waiting_for": "parts"}),
    ("bench:wait", {"waiting_for": "customer"}),
    ("bench:finish", {}),
)
TYPED: tuple[Mapping[str, str], ...] = (
    {"seen_version": "1", "version": "1", "reason": ""},
    {"seen_version": "1", "version": "1", "reason": "x" * 300},
    {"seen_version": "9", "version": "9", "reason": "Somebody was quicker"},
)


@pytest.mark.parametrize(
    ("matter", "typed"),
    [
        *((matter, TYPED[0]) for matter in MATTERS),
        *((_everything, typed) for typed in TYPED[1:]),
        *(pytest.param(_nothing, typed, marks=pytest.mark.long) for typed in TYPED[1:]),
    ],
    ids=lambda one: getattr(one, "__name__", "") or str(one["reason"])[:8],
)
def test_every_move_from_every_state(
    client: Client, owner: User, shop: Shop, matter: Callable[[Ticket], None], typed: Mapping[str, str]
) -> None:
    broken = []
    for state, (route, sent) in itertools.product(State.values, PRESSES):
        ticket = TicketFactory(shop=shop, state=state, waiting_for="parts" if state == State.WAITING else "")
        matter(ticket)
        page = client.post(reverse(route, args=[ticket.number]), {**typed, **sent})
        if page.status_code not in (302, 409, 422):
            broken.append((state, route, dict(sent), page.status_code))
        if page.status_code != 302:
            ticket.refresh_from_db()
            assert ticket.state == state, "it was refused and moved all the same"
    assert broken == []


class TestAboveTheAgreedPrice:
    """The clerk stands before the customer: what it comes to, what was agreed, and what to do now."""

    def test_hand_back_says_price_limit_and_what_to_do(self, client: Client, owner: User, shop: Shop) -> None:
        ticket = TicketFactory(shop=shop, state="ready")
        _too_dear(ticket)
        address = reverse("counter:hand_back", args=[ticket.number])
        for _ in range(2):  # pressed twice it says the same
            page = client.post(address, {"seen_version": "1", "seen_settings_version": "0", "remarks": "As it came"})
            text = page.content.decode()
            assert page.status_code == 422
            assert "The charges come to 90.00 EUR, the customer agreed to 10.00 EUR." in text
            assert "Make an estimate and record the customer’s yes, or charge less." in text
            assert reverse("charges:ticket", args=[ticket.number]) in text
            assert "As it came" in text
        ticket.refresh_from_db()
        assert (ticket.state, ticket.settings_records.count()) == ("ready", 0)

    def test_what_is_called_off_has_nobody_to_say_yes_and_is_told_so(
        self, client: Client, owner: User, shop: Shop
    ) -> None:
        ticket = TicketFactory(shop=shop, state="called_off")
        _too_dear(ticket)
        page = client.post(reverse("counter:hand_back", args=[ticket.number]), {"seen_version": "1", "pays_by": "cash"})
        text = page.content.decode()
        assert page.status_code == 422
        assert "Charge less, or put it back in the queue and ask the customer." in text

    def test_charged_less_it_goes(self, client: Client, owner: User, shop: Shop) -> None:
        ticket = TicketFactory(shop=shop, state="ready")
        _too_dear(ticket)
        client.post(reverse("charges:drop_labour", args=[ticket.number, LabourLine.objects.get().pk]))
        page = client.post(reverse("counter:hand_back", args=[ticket.number]), {"seen_version": "1", "pays_by": "cash"})
        assert page.status_code == 302
        ticket.refresh_from_db()
        assert ticket.state == "handed_back"
