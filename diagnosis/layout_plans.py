"""What a checklist file says, as frozen dataclasses. Pure data: minutes are minutes, chances are 0..1."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from specs.facts import FactValue

LAYOUT = 1
MOST_PROBLEMS = 100  # of one file, told at once
_LONGEST_REASON = 600

CHECK, WORK, PROOF = "check", "work", "proof"
OUTCOMES: Mapping[str, tuple[str, ...]] = {
    CHECK: ("ruled_out", "found", "cant_tell"),
    WORK: ("done", "left_out"),
    PROOF: ("proved", "not_proved"),
}
"""The outcomes a step of each kind can end with."""

STILL_PULLING = "still_pulling"
OWN_OUTCOMES: Mapping[str, tuple[str, ...]] = {WORK: (STILL_PULLING,)}
"""Those that only a step has which answers them: air let out, and the unit still pulls itself down."""


def outcomes_of(kind: str, answers: Mapping[str, object] | None) -> tuple[str, ...]:
    """The outcomes that a step of this kind with these answers can end with."""
    own = OWN_OUTCOMES.get(kind, ())
    return (*OUTCOMES[kind], *(outcome for outcome in own if outcome in (answers or {})))


CAUSE, BY_THE_WAY, DANGER = "cause", "by_the_way", "danger"
FINDINGS: Mapping[str, str] = {
    CAUSE: "This is the cause",
    BY_THE_WAY: "By the way",
    DANGER: "Dangerous: do not ride",
}
"""What was found can be, in the words of its button. Only the cause ends the search for the complaint."""

MOVES: Mapping[str, str] = {
    "push": "it stands on its wheels and is pushed, rocked or bounced",
    "ride": "somebody sits on it or rides it",
}
"""How a step loads the bike; one that only moves the unit by hand does not."""

SKILLS = ("anyone", "mechanic", "damper specialist")
ESCALATIONS = ("damper",)
BOLTS: Mapping[str, str] = {
    "foot_air_leg": "foot_torque_air_leg",
    "foot_damper_leg": "foot_torque_damper_leg",
    "axle": "axle_torque",
    "caliper": "caliper_torque",
    "stem": "stem_torque",
    "upper_crown": "upper_crown_torque",
    "lower_crown": "lower_crown_torque",
    "steerer_clamp": "steerer_clamp_torque",
}
"""Safety-critical bolts a step can tighten, and the spec quantity that holds the torque of each."""

Condition = Mapping[str, tuple[FactValue, ...]]
"""Fact key -> the values that fit; every fact must fit. Empty fits everything."""


class LayoutError(ValueError):
    """A checklist is refused. Says in which file and step, and why.

    `field` is the path of the field, such as "answers.found.says"; `beside` the reason in the words of a screen that
    shows it beside that field. What else is wrong with the same file is `rest`, each a LayoutError of its own.
    """

    def __init__(
        self,
        file: str,
        step: str,
        reason: str,
        *,
        field: str = "",
        beside: str = "",
        rest: tuple[LayoutError, ...] = (),
    ) -> None:
        self.file, self.step, self.field, self.rest = file, step, field, rest
        self.reason, self.beside = _cut(reason), _cut(beside or reason)
        place = f"{file}, step {step}" if step else file
        super().__init__("\n".join([f"{place}: {self.reason}", *map(str, rest)]))

    @property
    def all(self) -> tuple[LayoutError, ...]:
        """Everything that is wrong, this first, each alone."""
        alone = LayoutError(self.file, self.step, self.reason, field=self.field, beside=self.beside)
        return (alone, *self.rest) if self.rest else (self,)

    @property
    def where(self) -> str:
        """The place in its step or file as people count, such as "readings 2, low"."""
        words: list[str] = []
        for part in self.field.split("."):
            if part.isdecimal() and len(part) < 5 and words:
                words[-1] += f" {int(part) + 1}"
            else:
                words.append(_cut(part))
        return ", ".join(words)


def one_error(problems: Sequence[LayoutError]) -> LayoutError:
    """One error to raise for several, at least one; of more than MOST_PROBLEMS the first, and that there are more."""
    first, *rest = problems
    if len(problems) > MOST_PROBLEMS:
        more = f"more is wrong than can be told at once; these are the first {MOST_PROBLEMS}"
        rest = [*rest[: MOST_PROBLEMS - 1], LayoutError(first.file, "", more)]
    return LayoutError(first.file, first.step, first.reason, field=first.field, beside=first.beside, rest=tuple(rest))


def _cut(words: str) -> str:
    """A stranger's file may hold a name of a million letters; no reason repeats it whole."""
    return words if len(words) <= _LONGEST_REASON else f"{words[:_LONGEST_REASON]}…"


@dataclass(frozen=True)
class CautionPlan:
    """What can hurt at a step, its level (diagnosis.cautions.LEVELS), and on which units it can."""

    key: str
    title: str
    text: str
    level: str = "warning"
    only_if: Condition = field(default_factory=dict)


@dataclass(frozen=True)
class ComplaintPlan:
    """What a customer comes in with."""

    key: str
    title: str
    suits: tuple[str, ...]
    symptoms: tuple[str, ...]


@dataclass(frozen=True)
class CausePlan:
    """What can be behind a complaint; `prior` is its Dirichlet weight before any ticket is closed.

    `ends_life` names the parts that are worn out where this is the cause; see diagnosis.declared.LIVES.
    """

    key: str
    title: str
    for_customer: str
    prior: float
    ends_life: tuple[str, ...] = ()


@dataclass(frozen=True)
class LinePlan:
    """One line of what to do, and on which forks it is to be done."""

    text: str
    when: Condition = field(default_factory=dict)


@dataclass(frozen=True)
class ReadingPlan:
    """A value to enter. `low` and `high`, with their units, bound what can be meant, not what is healthy.

    `wanted` and `most` name what it is held against on the unit (diagnosis.wanted): what it is to be, and what it may
    never pass. `as_found`: a fact from before anybody touched the unit, so that it may lie above the most.

    A reading that is a word (`diagnosis.reading_kinds`) has neither, and no unit; `choices` are its own words.

    `measures` says what it is of, where the app reckons with it; see diagnosis.declared.MEASURES.
    """

    key: str
    label: str
    quantity: str
    unit: str
    required: bool
    low: str
    high: str
    help: str
    wanted: str = ""
    most: str = ""
    as_found: bool = False
    choices: tuple[str, ...] = ()
    measures: str = ""


@dataclass(frozen=True)
class TimerPlan:
    """A wait that the tablet counts down."""

    minutes: float
    label: str


@dataclass(frozen=True)
class PartPlan:
    """A part that an answer asks for, by its role; which part that is depends on the model."""

    role: str
    quantity: int
    note: str = ""


@dataclass(frozen=True)
class AnswerPlan:
    """What follows from one outcome of a step. `next` is a step key; None means go on in order.

    "Found" with no cause leaves the choice among those the step's ends_search names. Where that names none it is a
    finding by the way, such as worn bushings in a fork that loses air: parts and calls follow, the search goes on.
    `leaves` is the condition in which it leaves parts of the unit; see diagnosis.unit_parts. `finding` says what kind
    of finding it most likely is, `repair` which steps answer it, where `leaves`, `parts` and `next` do not say so.
    """

    cause: str | None = None
    next: str | None = None
    says: str = ""
    cure: str = ""
    parts: tuple[PartPlan, ...] = ()
    escalate: str | None = None
    call_customer: str | None = None
    leaves: Mapping[str, str] = field(default_factory=dict)
    finding: str | None = None
    repair: tuple[str, ...] = ()


@dataclass(frozen=True)
class StepPlan:
    """One step of a checklist, with its cautions written out. `shared` steps live in the shared file.

    `replaces` names safety or proof steps of an earlier version whose place it takes. `requires` holds the conditions
    of the unit that it can be done in, by part; `opens` the parts that are opened on the way, though it may close them
    again itself; `proves` those of which a proof says that they are good. `moves` says how the bike is loaded (MOVES).

    `closed_by` is the step that puts together again what this one took apart. A service counts as done when every step
    that is part of it (`services`) is; `renews` names the parts that are new after it. `frees_port` says how a check
    tries to free an air spring's port, `spring_answer` that the whole answer of the air spring stands at the step.
    `on_finding` says of work that it is suggested only where a finding names it under `repair`.
    """

    key: str
    kind: str
    title: str
    do: tuple[LinePlan, ...]
    minutes: float
    skill: str
    for_customer: str
    replaces: tuple[str, ...] = ()
    look_for: tuple[str, ...] = ()
    counts_as_found: str = ""
    tools: tuple[str, ...] = ()
    consumables: tuple[str, ...] = ()
    cautions: tuple[CautionPlan, ...] = ()
    needs: tuple[str, ...] = ()
    safety: bool = False
    only_if: Condition = field(default_factory=dict)
    shows: tuple[str, ...] = ()
    readings: tuple[ReadingPlan, ...] = ()
    timer: TimerPlan | None = None
    bolts: tuple[str, ...] = ()
    ends_search: Mapping[str, float] = field(default_factory=dict)
    requires: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    opens: tuple[str, ...] = ()
    proves: tuple[str, ...] = ()
    closed_by: str = ""
    services: tuple[str, ...] = ()
    renews: tuple[str, ...] = ()
    frees_port: str = ""
    spring_answer: bool = False
    on_finding: bool = False
    moves: str = ""
    answers: Mapping[str, AnswerPlan] = field(default_factory=dict)
    shared: bool = False


@dataclass(frozen=True)
class ChecklistPlan:
    """One checklist: its complaint, the causes behind it and the steps in handbook order."""

    key: str
    title: str
    summary: str
    is_routine: bool
    chances_source: str
    complaint: ComplaintPlan
    causes: tuple[CausePlan, ...]
    steps: tuple[StepPlan, ...]

    def step(self, key: str) -> StepPlan:
        """The step of that key; KeyError if there is none."""
        return {step.key: step for step in self.steps}[key]


@dataclass(frozen=True)
class ChecklistFolder:
    """All checklists of a folder with the cautions and shared steps they draw on."""

    cautions: Mapping[str, CautionPlan]
    shared_steps: tuple[StepPlan, ...]
    checklists: tuple[ChecklistPlan, ...]

    def checklist(self, key: str) -> ChecklistPlan:
        """The checklist of that key; KeyError if there is none."""
        return {plan.key: plan for plan in self.checklists}[key]
