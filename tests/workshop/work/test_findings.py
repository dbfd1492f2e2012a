"""Nothing that was found is forgotten: each finding is answered, or the ticket is not ready."""

from __future__ import annotations

import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from diagnosis.learning import causes_found_of_closed
from diagnosis.models import Run, Tick
from diagnosis.runs import start_run, take_back, tick
from tests.factories import (
    CauseFactory,
    ChecklistFactory,
    PartLineFactory,
    ShopFactory,
    StepFactory,
    TicketFactory,
    TicketRunFactory,
    TorqueToolFactory,
    UserFactory,
)
from tests.logbook import said
from workshop.models import BoltRecord, FindingAnswer, FreeFinding, PartLine, Shop, Ticket, User
from workshop.tickets.settings_record import Settings
from workshop.work.finding_answers import (
    FindingRefused,
    answer_finding,
    note_finding,
    reopen_finding,
    withdraw_finding,
)
from workshop.work.findings import Finding, findings_on, what_came_after
from workshop.work.hand_back import hand_back
from workshop.work.learned import learned_for, ticks_of
from workshop.work.moves import DangerUnanswered, ProofMissing, move
from workshop.work.part_lines import drop_part_line, take_up_again, use_part_line
from workshop.work.proof import missing_proof_of
from workshop.work.unresolved import PartsUnresolved
from workshop.work.unsafe import Unsigned, left_unsafe, unsafe_of
from workshop.work.work import run_states

pytestmark = pytest.mark.django_db
NO = "Wants to look for a used one himself"


@pytest.fixture
def shop() -> Shop:
    made: Shop = ShopFactory()
    return made


@pytest.fixture
def mechanic(shop: Shop) -> User:
    made: User = UserFactory(shop=shop, role="mechanic")
    return made


@pytest.fixture
def ticket(shop: Shop) -> Ticket:
    made: Ticket = TicketFactory(shop=shop, state="on_the_bench")
    checklist = ChecklistFactory(priors={})
    parts = [{"role": "wiper", "quantity": 2}]
    StepFactory(checklist=checklist, key="seal", title="Look at the seal", ends_search={},
                answers={"found": {"repair": ["mend", "prove"]}})  # fmt: skip
    StepFactory(checklist=checklist, key="wipers", ends_search={}, answers={"found": {"parts": parts}})
    StepFactory(checklist=checklist, key="crown", ends_search={}, title="Look at the crown",
                counts_as_found="There is a crack.", answers={"found": {"finding": "danger"}})  # fmt: skip
    StepFactory(checklist=checklist, key="mend", title="New seal", kind="work", answers={})
    StepFactory(checklist=checklist, key="prove", title="It holds", kind="proof", answers={})
    StepFactory(checklist=checklist, key="axle", title="Axle in", kind="work", bolts=["axle"],
                answers={"done": {"leaves": {"axle": "tight"}}})  # fmt: skip
    run = start_run(checklist=checklist, facts={}, by=None)
    TicketRunFactory(ticket=made, run=run)
    return made


def answer(ticket: Ticket, step_key: str, outcome: str = "found", finding: str = "") -> Tick:
    run = Run.objects.get(pk__in=ticket.ticket_runs.values("run"))
    return tick(
        run=run, step_key=step_key, outcome=outcome, finding=finding, by=None, seen_version=run.version,
        client_id=uuid.uuid4(),
    )  # fmt: skip


def undo(ticket: Ticket, step_key: str) -> None:
    run = Run.objects.get(pk__in=ticket.ticket_runs.values("run"))
    take_back(run=run, step_key=step_key, by=None, seen_version=run.version, client_id=uuid.uuid4())


def found(ticket: Ticket) -> list[Finding]:
    return findings_on(ticket, run_states(ticket))


def only(ticket: Ticket) -> Finding:
    (finding,) = found(ticket)
    return finding


def say(ticket: Ticket, how: str, by: User, words: str = "", put_right_by: str = "") -> FindingAnswer:
    return answer_finding(
        ticket=ticket, states=run_states(ticket), token=only(ticket).token, how=how, by=by, client_id=uuid.uuid4(),
        words=words, put_right_by=put_right_by,
    )  # fmt: skip


def note(ticket: Ticket, by: User, kind: str = "danger") -> FreeFinding:
    return note_finding(
        ticket=ticket, kind=kind, place="Crown", text="Cracked at the left stanchion", by=by, client_id=uuid.uuid4()
    )


def ready(ticket: Ticket, by: User, reason: str = "") -> None:
    ticket.refresh_from_db()
    move(ticket=ticket, to_state="ready", by=by, seen_version=ticket.version, reason=reason, without_proof=bool(reason))


class TestWhatTheBenchAnswers:
    def test_all_its_steps_after_it(self, ticket: Ticket) -> None:
        answer(ticket, "seal")
        assert only(ticket).is_open
        assert only(ticket).wanted == ("“New seal” and “It holds”",)
        answer(ticket, "mend", "done")
        assert only(ticket).is_open, "the proof is missing still"
        answer(ticket, "prove", "proved")
        assert [words.split(",")[0] for words in only(ticket).answered] == ["New seal: done", "It holds: proved"]
        undo(ticket, "prove")
        assert only(ticket).is_open

    def test_what_was_done_before_it_answers_nothing(self, ticket: Ticket) -> None:
        answer(ticket, "mend", "done")
        answer(ticket, "prove", "proved")
        answer(ticket, "seal")
        assert only(ticket).is_open

    def test_a_proof_that_failed_answers_nothing(self, ticket: Ticket) -> None:
        answer(ticket, "seal")
        answer(ticket, "mend", "done")
        answer(ticket, "prove", "not_proved")
        assert only(ticket).is_open

    @pytest.mark.parametrize("own", [True, False], ids=["asked for here", "asked for elsewhere"])
    def test_a_part_of_it_that_was_fitted(self, ticket: Ticket, own: bool) -> None:
        made = answer(ticket, "wipers")
        line = PartLineFactory(
            ticket=ticket, part=None, words="Wiper", role="wiper", quantity=Decimal(2),
            source="finding" if own else "by_hand", step=made.step if own else None,
        )  # fmt: skip
        assert only(ticket).is_open, "needed is not fitted"
        use_part_line(line=line, by=None)
        assert only(ticket).answered == ("Part used: Wiper",)
        take_up_again(line=PartLine.objects.get(pk=line.pk), by=None)
        assert only(ticket).is_open

    def test_changed_and_taken_back_it_is_another_finding_or_none(self, ticket: Ticket, mechanic: User) -> None:
        answer(ticket, "seal")
        say(ticket, "left", mechanic, "Old and dry, holds for now")
        answer(ticket, "seal", finding="danger")
        assert (only(ticket).is_open, only(ticket).kind) == (True, "danger")
        undo(ticket, "seal")
        assert found(ticket) == []


class TestWhatSomebodySays:
    def test_the_customers_no_with_the_words_for_the_report(self, ticket: Ticket) -> None:
        answer(ticket, "seal")
        clerk = UserFactory(shop=ticket.shop, role="counter")
        with pytest.raises(FindingRefused, match="These words go on the report"):
            say(ticket, "declined", clerk, "  ")
        say(ticket, "declined", clerk, NO)
        assert only(ticket).answered == (f"The customer said no: {NO}",)
        assert not only(ticket).is_mended

    def test_left_needs_a_reason_of_a_mechanic_or_the_owner(self, ticket: Ticket, mechanic: User) -> None:
        answer(ticket, "seal")
        with pytest.raises(FindingRefused, match="a mechanic or the owner"):
            say(ticket, "left", UserFactory(shop=ticket.shop, role="counter"), "Cheap")
        with pytest.raises(FindingRefused, match="why it is released without it"):
            say(ticket, "left", mechanic)
        say(ticket, "left", UserFactory(shop=ticket.shop, owner=True))
        assert not only(ticket).is_open

    def test_a_danger_never_goes_without(self, ticket: Ticket) -> None:
        note(ticket, UserFactory(shop=ticket.shop, role="mechanic"))
        with pytest.raises(FindingRefused, match="never goes without"):
            say(ticket, "left", UserFactory(shop=ticket.shop, owner=True), "Looks old")
        assert only(ticket).is_open

    def test_put_right_by_something_done_after_it(self, ticket: Ticket, mechanic: User) -> None:
        before = answer(ticket, "prove", "proved")
        note(ticket, mechanic)
        with pytest.raises(FindingRefused, match="Choose the step or the part"):
            say(ticket, "mended", mechanic, put_right_by=f"tick-{before.pk}")
        answer(ticket, "mend", "done")
        (choice,) = what_came_after(ticket, only(ticket), run_states(ticket))
        say(ticket, "mended", mechanic, put_right_by=choice.value)
        assert only(ticket).is_mended
        assert "New seal" in only(ticket).answered[0]
        undo(ticket, "mend")
        assert only(ticket).is_open, "what put it right was undone"

    def test_put_right_by_a_part_until_it_is_out_again(self, ticket: Ticket, mechanic: User) -> None:
        note(ticket, mechanic)
        line = PartLineFactory(ticket=ticket)
        use_part_line(line=line, by=None)
        say(ticket, "mended", mechanic, put_right_by=f"part-{line.pk}")
        assert only(ticket).is_mended
        take_up_again(line=PartLine.objects.get(pk=line.pk), by=None)
        assert only(ticket).is_open

    def test_said_twice_otherwise_and_taken_back(self, ticket: Ticket, mechanic: User) -> None:
        answer(ticket, "seal")
        client_id = uuid.uuid4()
        for _ in range(2):
            answer_finding(
                ticket=ticket, states=run_states(ticket), token=only(ticket).token, how="declined", by=mechanic,
                client_id=client_id, words=NO,
            )  # fmt: skip
        assert FindingAnswer.objects.count() == 1
        say(ticket, "left", mechanic, "On the house next time")
        assert only(ticket).answered[0].startswith("Released without it: On the house next time")
        for _ in range(2):
            reopen_finding(ticket=ticket, states=run_states(ticket), token=only(ticket).token, by=mechanic)
        assert only(ticket).is_open
        kinds = list(ticket.events.values_list("kind", flat=True))
        assert (kinds.count("finding_answered"), kinds.count("finding_reopened")) == (2, 1)

    def test_what_is_not_there_is_refused(self, ticket: Ticket, mechanic: User) -> None:
        answer(ticket, "seal")
        for token in ("free-1", "tick-0", "", "nonsense"):
            with pytest.raises(FindingRefused, match="no longer on this ticket"):
                answer_finding(ticket=ticket, states=run_states(ticket), token=token, how="declined", by=mechanic,
                               client_id=uuid.uuid4(), words=NO)  # fmt: skip
        with pytest.raises(FindingRefused, match="Choose what answers it"):
            say(ticket, "forgotten", mechanic, "x")


class TestFree:
    def test_it_says_what_where_and_how_bad(self, ticket: Ticket, mechanic: User) -> None:
        for missing in ({"place": " "}, {"text": ""}, {"kind": "cause"}, {"kind": ""}):
            values = {"kind": "danger", "place": "Crown", "text": "Cracked"} | missing
            with pytest.raises(FindingRefused):
                note_finding(ticket=ticket, by=mechanic, client_id=uuid.uuid4(), **values)  # type: ignore[arg-type]
        with pytest.raises(ValidationError):
            note_finding(ticket=ticket, kind="danger", place="x" * 81, text="y", by=mechanic, client_id=uuid.uuid4())
        assert found(ticket) == []

    def test_sent_twice_it_is_there_once(self, ticket: Ticket, mechanic: User) -> None:
        client_id = uuid.uuid4()
        for _ in range(2):
            note_finding(ticket=ticket, kind="danger", place="Crown", text="Cracked", by=mechanic, client_id=client_id)
        assert len(found(ticket)) == 1
        with pytest.raises(FindingRefused, match="another finding"):
            note_finding(ticket=ticket, kind="danger", place="Arch", text="Bent", by=mechanic, client_id=client_id)

    def test_taken_back_it_counts_no_more(self, ticket: Ticket, mechanic: User) -> None:
        made = note(ticket, mechanic)
        for _ in range(2):
            withdraw_finding(finding=made, by=mechanic)
        assert found(ticket) == []
        assert list(ticket.events.values_list("kind", flat=True)).count("finding_withdrawn") == 1

    def test_the_database_keeps_no_half_answer(self, ticket: Ticket, mechanic: User) -> None:
        free = note(ticket, mechanic)
        for values in ({"how": "mended"}, {"how": "declined"}, {"how": "left", "free": None}):
            row = {"ticket": ticket, "free": free, "at": timezone.now()} | values
            with pytest.raises(IntegrityError), transaction.atomic():
                FindingAnswer.objects.create(**row)


class TestReady:
    @pytest.fixture
    def proved(self, ticket: Ticket) -> Ticket:
        answer(ticket, "prove", "proved")
        return ticket

    def test_what_nothing_answers_holds_it_until_somebody_answers_for_it(
        self, ticket: Ticket, proved: Ticket, mechanic: User
    ) -> None:
        answer(ticket, "wipers")
        with pytest.raises(ProofMissing, match="nothing answers it yet"):
            ready(ticket, mechanic)
        with pytest.raises(ProofMissing):
            ready(ticket, UserFactory(shop=ticket.shop, role="counter"), "They look fine")
        ready(ticket, mechanic, "They look fine")
        assert ticket.state == "ready"

    def test_a_part_that_may_answer_it_is_asked_about_first(
        self, ticket: Ticket, proved: Ticket, mechanic: User
    ) -> None:
        made = answer(ticket, "wipers")
        line = PartLineFactory(ticket=ticket, part=None, words="Wiper", role="wiper", step=made.step, source="finding")
        assert missing_proof_of(ticket) == []
        with pytest.raises(PartsUnresolved):
            ready(ticket, mechanic)
        drop_part_line(line=line, by=mechanic)
        with pytest.raises(ProofMissing, match="nothing answers it yet"):
            ready(ticket, mechanic)

    def test_a_danger_holds_it_whatever_the_reason_and_whoever_gives_it(
        self, ticket: Ticket, proved: Ticket, mechanic: User
    ) -> None:
        answer(ticket, "crown")
        for by, reason in (
            (mechanic, ""),
            (mechanic, "Looks old"),
            (UserFactory(shop=ticket.shop, owner=True), "Mine"),
        ):
            with pytest.raises(DangerUnanswered, match="No reason does instead"):
                ready(ticket, by, reason)
        say(ticket, "declined", mechanic, NO)
        ready(ticket, mechanic)
        assert ticket.state == "ready"

    def test_a_bolt_that_was_touched_has_value_and_tool(self, ticket: Ticket, proved: Ticket, mechanic: User) -> None:
        answer(ticket, "axle", "done")
        with pytest.raises(ProofMissing, match="no torque is on record"):
            ready(ticket, mechanic)
        tool = TorqueToolFactory(shop=ticket.shop)
        record = BoltRecord.objects.create(
            ticket=ticket, bolt="axle", torque_nm=12, typed="12", by=mechanic, at=timezone.now(), client_id=uuid.uuid4()
        )
        with pytest.raises(ProofMissing, match="no tool is named"):
            ready(ticket, mechanic)
        BoltRecord.objects.filter(pk=record.pk).update(tool=tool)
        ready(ticket, mechanic)
        assert ticket.state == "ready"


class TestHandedBackUnsafe:
    @pytest.fixture
    def declined(self, ticket: Ticket, mechanic: User) -> Ticket:
        answer(ticket, "prove", "proved")
        answer(ticket, "crown")
        say(ticket, "declined", mechanic, NO)
        ready(ticket, mechanic)
        return ticket

    @staticmethod
    def give_back(ticket: Ticket, signed_by: str = "") -> None:
        ticket.refresh_from_db()
        hand_back(ticket=ticket, by=None, seen_version=ticket.version, settings=Settings(), signed_by=signed_by)

    def test_it_leaves_only_signed_for(self, declined: Ticket) -> None:
        for name in ("", "   "):
            with pytest.raises(Unsigned, match="There is a crack"):
                self.give_back(declined, name)
        declined.refresh_from_db()
        assert declined.state == "ready"
        self.give_back(declined, "R. Winterbourne")
        assert declined.state == "handed_back"
        (line,) = [said(event) for event in declined.events.filter(kind="back_unsafe")]
        for words in ("Handed back unsafe", "There is a crack", NO, "R. Winterbourne"):
            assert words in line
        assert unsafe_of(declined).signed_by == "R. Winterbourne"

    def test_the_next_visit_shows_it_until_one_ends_safe(self, declined: Ticket) -> None:
        self.give_back(declined, "R. Winterbourne")
        again = TicketFactory(shop=declined.shop, customer=declined.customer, unit=declined.unit)
        assert left_unsafe(declined.unit, again).ticket_number == declined.number
        Ticket.objects.filter(pk=again.pk).update(state="handed_back")
        assert left_unsafe(declined.unit).words == ()

    def test_called_off_with_a_danger_nobody_answered_it_is_signed_for_too(
        self, ticket: Ticket, mechanic: User
    ) -> None:
        note(ticket, mechanic)
        move(ticket=ticket, to_state="called_off", by=mechanic, seen_version=ticket.version)
        with pytest.raises(Unsigned, match="Cracked at the left stanchion"):
            self.give_back(ticket)
        self.give_back(ticket, "R. Winterbourne")
        assert ticket.state == "handed_back"

    def test_one_that_was_put_right_asks_for_no_name(self, ticket: Ticket, mechanic: User) -> None:
        answer(ticket, "crown")
        answer(ticket, "prove", "proved")
        (choice,) = what_came_after(ticket, only(ticket), run_states(ticket))
        say(ticket, "mended", mechanic, put_right_by=choice.value)
        ready(ticket, mechanic)
        self.give_back(ticket)
        assert (ticket.state, unsafe_of(ticket).words) == ("handed_back", ())

    def test_nothing_is_noted_or_said_once_it_is_gone(self, declined: Ticket, mechanic: User) -> None:
        self.give_back(declined, "R. Winterbourne")
        with pytest.raises(ValidationError, match="handed back"):
            note(declined, mechanic)
        with pytest.raises(ValidationError, match="handed back"):
            say(declined, "declined", mechanic, NO)


def test_however_many_findings_the_queries_stay(
    ticket: Ticket, mechanic: User, django_assert_num_queries: object
) -> None:
    answer(ticket, "seal")
    note(ticket, mechanic)
    states = run_states(ticket)
    with django_assert_num_queries(3):  # type: ignore[operator]
        findings_on(ticket, states)
    for _ in range(3):
        note(ticket, mechanic)
    for key in ("wipers", "crown"):
        answer(ticket, key)
    states = run_states(ticket)
    with django_assert_num_queries(3):  # type: ignore[operator]
        assert len(findings_on(ticket, states)) == 7


@pytest.mark.parametrize(("finding", "counted"), [("cause", 1), ("danger", 0), ("by_the_way", 0)])
def test_figures_and_learning_count_causes_only(shop: Shop, finding: str, counted: int) -> None:
    cause = CauseFactory(key="worn-seal")
    checklist = ChecklistFactory(priors={"worn-seal": 1})
    StepFactory(checklist=checklist, key="seal", ends_search={"worn-seal": 0.9}, answers={})
    made = TicketFactory(shop=shop, state="handed_back")
    run = start_run(checklist=checklist, facts={}, by=None)
    TicketRunFactory(ticket=made, run=run)
    answer(made, "seal", finding=finding)
    Run.objects.filter(pk=run.pk).update(ended_at=timezone.now())
    learned = learned_for(shop, checklist.complaint)
    assert sum(learned.tickets_by_kind.get("unknown", {}).values()) == counted
    assert learned.without_cause == 1 - counted
    ticks, _ = ticks_of([made.pk])
    assert (cause.key in causes_found_of_closed(ticks).values()) == bool(counted)
