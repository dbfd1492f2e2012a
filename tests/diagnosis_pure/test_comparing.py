"""What is different between two versions, in words."""

from __future__ import annotations

from dataclasses import replace

from diagnosis.comparing import compare
from diagnosis.layout import ChecklistPlan, StepPlan
from diagnosis.layout_plans import ReadingPlan
from tests.shipped import shipped_folder

PLAN = shipped_folder().checklist("loses-air")


def with_step(place: int, **changes: object) -> ChecklistPlan:
    steps = list(PLAN.steps)
    steps[place] = replace(steps[place], **changes)  # type: ignore[arg-type]
    return replace(PLAN, steps=tuple(steps))


def details(after: ChecklistPlan) -> list[str]:
    (step,) = compare(PLAN, after).steps
    return list(step.details)


def test_nothing_is_different() -> None:
    assert not compare(PLAN, PLAN)
    assert not compare(PLAN, replace(PLAN, causes=PLAN.causes[::-1]))


def test_a_value_is_told_before_and_after() -> None:
    minutes = PLAN.steps[0].minutes
    assert details(with_step(0, minutes=minutes + 1)) == [f"Minutes: “{minutes:g}” is now “{minutes + 1:g}”."]


def test_a_line_that_is_reworded_added_or_gone() -> None:
    lines = PLAN.steps[0].do
    reworded = replace(lines[0], text="Another way.")
    assert details(with_step(0, do=(reworded, *lines[1:]))) == [f"Do: “{lines[0].text}” is now “Another way.”."]
    assert details(with_step(0, do=(*lines, reworded))) == ["Do, added: “Another way.”."]
    assert details(with_step(0, do=lines[:-1])) == [f"Do, removed: “If it has a twin crown: {lines[-1].text}”."]


def test_a_condition_reads_as_on_the_tablet() -> None:
    (said,) = details(with_step(0, only_if={"foot_fastener": ("bolt", "nut")}))
    assert said == "On which units: “all” is now “If it has foot bolts or it has foot nuts”."


def test_a_step_that_moved_says_where_and_the_others_stay_silent() -> None:
    steps = list(PLAN.steps)
    steps.insert(5, steps.pop(2))
    (moved,) = compare(PLAN, replace(PLAN, steps=tuple(steps))).steps
    assert moved.title == PLAN.steps[2].title
    assert moved.details == (f"Moved: now after “{PLAN.steps[5].title}”.",)


def test_a_new_step_and_a_retired_one_that_it_replaces() -> None:
    gone: StepPlan = PLAN.steps[-1]
    new = replace(gone, key="brand-new", title="Brand new", replaces=(gone.key,))
    changes = compare(PLAN, replace(PLAN, steps=(*PLAN.steps[:-1], new))).steps
    assert [(step.title, step.fate) for step in changes] == [("Brand new", "new"), (gone.title, "retired")]
    assert changes[0].details[-1] == f"In place of “{gone.title}”."
    assert changes[1].details == ("Replaced by “Brand new”.",)


def test_causes_weights_and_chances() -> None:
    heavier = replace(PLAN.causes[0], prior=PLAN.causes[0].prior + 1)
    (said,) = compare(PLAN, replace(PLAN, causes=(heavier, *PLAN.causes[1:]))).head
    assert said.startswith(f"Cause “{heavier.title}”, weight: ")
    place = next(place for place, step in enumerate(PLAN.steps) if step.ends_search)
    cause = next(iter(PLAN.steps[place].ends_search))
    title = next(one.title for one in PLAN.causes if one.key == cause)
    (said,) = details(with_step(place, ends_search={**PLAN.steps[place].ends_search, cause: 0.01}))
    assert said.startswith(f"Chance to find “{title}”: ")
    assert said.endswith("is now “0.01”.")


def test_a_checklist_that_was_not_there_is_all_new() -> None:
    changes = compare(None, PLAN)
    assert changes.head == (f"A new checklist with {len(PLAN.causes)} causes.",)
    assert [(step.title, step.fate) for step in changes.steps] == [(step.title, "new") for step in PLAN.steps]
    assert len(changes) == 1 + len(PLAN.steps)


def test_a_cause_that_comes_and_one_that_goes() -> None:
    gone, *kept = PLAN.causes
    new = replace(gone, key="brand-new", title="Brand new", prior=2.5)
    assert set(compare(PLAN, replace(PLAN, causes=(new, *kept))).head) == {
        "New cause “Brand new”, weight 2.5.",
        f"Cause “{gone.title}” is removed.",
    }


def test_a_complaint_that_becomes_a_service() -> None:
    service = replace(PLAN, is_routine=True)
    assert compare(PLAN, service).head == ("Now a routine service.",)
    assert compare(service, PLAN).head == ("No longer a routine service.",)


def test_a_safety_step_that_is_one_no_longer() -> None:
    safe = with_step(0, safety=True)
    plain = with_step(0, safety=False)
    assert [step.details for step in compare(plain, safe).steps] == [("Now a safety step.",)]
    assert [step.details for step in compare(safe, plain).steps] == [("No longer a safety step.",)]


def test_a_caution_in_other_words() -> None:
    place = next(place for place, step in enumerate(PLAN.steps) if step.cautions)
    first, *rest = PLAN.steps[place].cautions
    (said,) = details(with_step(place, cautions=(replace(first, text="Other words."), *rest)))
    assert said == f"Caution “{first.title}”: “{first.text}” is now “Other words.”."


class TestReadings:
    place = next(place for place, step in enumerate(PLAN.steps) if step.readings)
    reading = PLAN.steps[place].readings[0]

    def said_of(self, *readings: ReadingPlan) -> list[str]:
        return details(with_step(self.place, readings=readings))

    def test_each_property_is_told(self) -> None:
        rest = PLAN.steps[self.place].readings[1:]
        name = f"Reading “{self.reading.label}”"
        needed = replace(self.reading, required=not self.reading.required)
        words = "now required" if needed.required else "no longer required"
        assert self.said_of(needed, *rest) == [f"{name} is {words}."]
        wider = replace(self.reading, high="999 psi")
        was = f"{self.reading.low} to {self.reading.high}"
        assert self.said_of(wider, *rest) == [f"{name}, range: “{was}” is now “{self.reading.low} to 999 psi”."]
        assert self.said_of(replace(self.reading, help=""), *rest) == [
            f"{name}, help was “{self.reading.help}” and is now empty."
        ]

    def test_one_that_comes_goes_or_changes_its_place(self) -> None:
        every = PLAN.steps[self.place].readings
        second = replace(self.reading, key="second", label="Second", required=True)
        assert self.said_of(*every, second) == ["New reading “Second”, required."]
        assert self.said_of(*every[1:]) == [f"Reading “{self.reading.label}” is removed."]
        both = with_step(self.place, readings=(*every, second))
        turned = with_step(self.place, readings=(second, *every))
        assert [step.details for step in compare(both, turned).steps] == [("The readings are in another order.",)]


def test_an_answer_of_which_nothing_is_said_any_more() -> None:
    place = next(place for place, step in enumerate(PLAN.steps) if "ruled_out" in step.answers)
    kept = {given: answer for given, answer in PLAN.steps[place].answers.items() if given != "ruled_out"}
    assert details(with_step(place, answers=kept)) == ["Nothing is said any more for “ruled out”."]
