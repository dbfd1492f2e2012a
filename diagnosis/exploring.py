"""Going through every state of a checklist, and which rules are broken on the way. Pure.

Whatever order a mechanic chooses: nothing that the real bench takes is left out (diagnosis.state_space), so a rule that
no state here breaks is broken nowhere. For the way back to ready the opposite is assumed (diagnosis.exploring_back).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from diagnosis.exploring_back import WayBack
from diagnosis.layout_plans import PROOF
from diagnosis.runs_rules import causes_of
from diagnosis.state_sets import NOTHING
from diagnosis.state_space import Exploration, SpaceAnswer
from diagnosis.unit_invariants import CAUSE_OUT_OF_REACH, NO_WAY_BACK, PROOF_TOO_OLD, Forbidden, forbidden, uncovered
from diagnosis.unit_parts import PARTS
from diagnosis.unit_state import endings


@dataclass(frozen=True)
class Broken:
    """A rule that is broken, how, at which step, on which unit, and the shortest way there as steps and answers."""

    rule: str
    words: str
    step: str
    facts: Mapping[str, Any]
    way: tuple[tuple[str, str], ...] = ()


@dataclass
class Explored:
    """What an exploration saw.

    `longest` is the longest of the shortest walks to a state; None where nobody asked. `without_a_way` counts the
    states, by their conditions, from which no answers lead to ready, found backwards; or one where a walk got lost.
    """

    combinations: int
    states: int
    longest: int | None
    without_a_way: int
    broken: list[Broken] = field(default_factory=list)


def explore(
    lists: Sequence[Sequence[Any]],
    kinds: Collection[str],
    *,
    with_proofs: bool = True,
    count_walks: bool = True,
    backwards: bool = True,
) -> Explored:
    """Go through everything and say which rules are broken, each once a step.

    `with_proofs` counts the age of proofs among the states. Every rule is judged without it, in one list as in pairs,
    and nothing is lost by that:

    - Whether the bench takes an answer, and what it makes of the parts, follows from the parts alone: no change looks
      at the age of a proof, and the ages follow from the parts that were opened. So the states with ages, their ages
      struck out, are the states without, and what no state breaks here breaks nothing there.
    - The one rule that is about ages, that nothing is ready with a proof older than what it proves, is held by the
      bench, which opens such a proof again. What is left to judge is that there is such a proof for whatever is opened
      (`_never_proved`: a matter of steps), and that it can be made again (the way back, from every age of every proof,
      in pairs too).

    tests/checklists/test_exploring_back.py holds the first against ages that are counted, in pairs as well.
    `backwards` searches the way to ready from its end too; it costs more than all the rest.
    """
    plain = Exploration(lists, kinds, with_proofs=False)
    counted = Exploration(lists, kinds) if with_proofs else plain
    found = Explored(
        combinations=len(plain.units),
        states=counted.sets.count(counted.reached),
        longest=len(plain.layers) - 1 if count_walks else None,
        without_a_way=0,
    )
    for judged in (_forbidden, _never_proved, _out_of_reach):
        found.broken += judged(plain)
    lost = _lost(plain, backwards=backwards)
    found.without_a_way = plain.sets.count(lost)
    found.broken += _no_way_back(plain, lost)
    return found


def _lost(at: Exploration, *, backwards: bool) -> int:
    """States from which no plain answers lead to everything closed and proved, or one from which no walk does."""
    back = WayBack(at)
    return (back.without_a_way() if backwards else NOTHING) or back.lost()


def _broken(at: Exploration, states: int, rule: str, words: str, answer: SpaceAnswer | None, step: str = "") -> Broken:
    row, way = at.way_to(states)
    way = (*way, answer.named) if answer is not None else way
    return Broken(rule, words, answer.step.key if answer else step, at.units[row[0]].facts, way)


def _forbidden(at: Exploration) -> Iterator[Broken]:
    """Answers that the bench takes and that break a rule."""
    seen: set[tuple[str, str]] = set()
    for step in at.steps:
        for outcome in endings(step):
            answer = SpaceAnswer(step, outcome)
            for one in forbidden(step, outcome):
                bad = _states_that_break(at, answer, one)
                if bad and (one.rule, step.key) not in seen:
                    seen.add((one.rule, step.key))
                    yield _broken(at, bad, one.rule, one.words, answer)


def _states_that_break(at: Exploration, answer: SpaceAnswer, one: Forbidden) -> int:
    where = at.where(one.where, at.units_of(answer.step))
    return at.sets.both(where, at.can_be_given(answer, as_asked=one.as_asked)) if where else NOTHING


def _never_proved(at: Exploration) -> Iterator[Broken]:
    """Parts that are opened, or left in doubt, and that no proof on such a unit is of: ready would have none."""
    seen: set[str] = set()
    for number, unit in enumerate(at.units):
        proofs = [step for step in at.steps if step.kind == PROOF and number in at.units_of(step)]
        for answer in at.answers():
            if number not in at.units_of(answer.step):
                continue
            touched = at.touched_by(answer, at.left_by(answer)) & unit.parts
            for part in sorted(uncovered(touched, proofs) - seen):
                can = at.sets.both(at.can_be_given(answer), at.where({}, [number]))
                if can:
                    seen.add(part)
                    words = f"no proof is of {PARTS[part].named}, which is opened here or left in doubt"
                    yield _broken(at, can, PROOF_TOO_OLD, words, answer)


def _out_of_reach(at: Exploration) -> Iterator[Broken]:
    """Causes that no check can come to find on a unit on which they are looked for."""
    seen: set[str] = set()
    for number in range(len(at.units)):
        checks: dict[str, list[Any]] = {}
        for step in at.steps:
            if number in at.units_of(step):
                for cause in causes_of(step):
                    checks.setdefault(cause, []).append(step)
        for cause, steps in checks.items():
            here = at.where({}, [number])
            if cause not in seen and not any(
                at.sets.both(here, at.can_be_given(SpaceAnswer(step, "found"), as_asked=True)) for step in steps
            ):
                seen.add(cause)
                words = f"no check that can find “{cause}” can ever be done as it asks"
                yield Broken(CAUSE_OUT_OF_REACH, words, steps[0].key, at.units[number].facts)


def _no_way_back(at: Exploration, lost: int) -> Iterator[Broken]:
    if lost:
        row, way = at.way_to(lost)
        unit = at.units[row[0]]
        stuck = [PARTS[part].named for part, place in at.places.of_part.items() if at.is_open(part, row[place])]
        words = (
            f"no way back to ready from here, with {' and '.join(stuck)} open" if stuck else "no way to ready from here"
        )
        yield Broken(NO_WAY_BACK, words, way[-1][0] if way else "", unit.facts, way)
