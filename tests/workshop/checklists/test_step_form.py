"""The form of a step and the file layout say the same, and each refusal stands beside its field."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import pytest
from django.http import QueryDict
from hypothesis import HealthCheck, Phase, given, settings

from diagnosis.drafts import plan_of_draft, step_of
from diagnosis.layout import ChecklistPlan, StepPlan
from diagnosis.layout_fields import Fields
from diagnosis.layout_reading import read_step
from diagnosis.stored import data_of
from tests.checklist_forms import as_sent
from tests.generated_checklists import checklists
from tests.shipped import shipped_folder
from workshop.checklists.step_form import StepForm


def form_for(
    data: dict[str, Any], key: str, sent: dict[str, Any] | None = None, *, plan: ChecklistPlan | None = None
) -> StepForm:
    """The form of a step, bound where something is sent; `plan` is the data's where it was read already."""
    plan = plan or plan_of_draft(data)
    cautions = {caution.key: caution for step in plan.steps for caution in step.cautions}
    bound = None
    if sent is not None:
        bound = QueryDict(mutable=True)
        for name, value in sent.items():
            bound.setlist(name, value if isinstance(value, list) else [str(value)])
    return StepForm(bound, raw=step_of(data, key), plan=plan, cautions=cautions, lost=[], initial={"seen": 1})


def sent_back(plan: ChecklistPlan, but: Collection[StepPlan] = ()) -> int:
    """Each step goes through its form and comes back the same; returns how many were not among `but`."""
    data = data_of(plan)
    read = plan_of_draft(data)
    steps = [step for step in read.steps if step not in but]
    for step in steps:
        form = form_for(data, step.key, as_sent(form_for(data, step.key, plan=read)), plan=read)
        assert form.is_valid(), (step.key, form.errors)
        cautions = {caution.key: caution for caution in step.cautions}
        assert read_step(Fields(form.raw(), file="x", step=step.key), cautions) == step
    return len(steps)


def test_every_shipped_step_goes_through_its_form_unchanged() -> None:
    """Once, however many lists it stands in with the same words."""
    tried: list[StepPlan] = []
    sent = 0
    for plan in shipped_folder().checklists:
        sent += sent_back(plan, tried)
        tried += plan_of_draft(data_of(plan)).steps
    assert 100 < sent < len(tried)
    assert sent >= len({step.key for step in tried})


@settings(max_examples=15, phases=[Phase.generate], suppress_health_check=[HealthCheck.too_slow])
@given(checklists())
def test_any_step_goes_through_its_form_unchanged(plan: ChecklistPlan) -> None:
    sent_back(plan)


def changed(key: str = "free-port-at-maximum", **changes: Any) -> StepForm:
    data = data_of(shipped_folder().checklist("sits-low"))
    return form_for(data, key, as_sent(form_for(data, key), **changes))


@pytest.mark.parametrize(
    ("field", "typed", "reason"),
    [
        ("title", "", "Enter this."),
        ("title", "x" * 81, "80 characters at most."),
        ("minutes", "-2", "Enter a number, 0 or more."),
        ("minutes", "a few", "Enter a number, 0 or more."),
        ("minutes", "nan", "Enter a number, 0 or more."),
        ("ends_search__port-blocked", "1.2", "Enter a chance from 0 to 1, for example 0.3."),
        ("ends_search__port-blocked", "-0.1", "Enter a number, 0 or more."),
        ("counts_as_found", "", "Enter this."),
        ("for_customer", "", "Enter this."),
        ("answers__found__says", "", "Enter this."),
        ("readings__0__low", "500 psi", "It must be more than 500 psi."),
        ("readings__0__high", "much", "Enter a number, for example 82 psi."),
        ("timer__minutes", "", "Enter this."),
    ],
)
def test_a_refusal_stands_beside_its_field(field: str, typed: str, reason: str) -> None:
    form = changed(**{field: typed})
    assert not form.is_valid()
    name = {"readings__0__low": "readings.0.high"}.get(field, field.replace("__", "."))
    assert list(form.errors) == [name]
    assert reason in str(form.errors[name])
    assert form[field.replace("__", ".")].value() == typed


def test_all_refusals_are_said_at_once() -> None:
    form = changed(title="", minutes="-1", counts_as_found="", answers__found__says="")
    assert set(form.errors) == {"title", "minutes", "counts_as_found", "answers.found.says"}


def test_all_refusals_of_one_reading_are_said_at_once() -> None:
    form = changed(readings__0__low="much", readings__0__high="", readings__0__help="")
    assert set(form.errors) == {"readings.0.low", "readings.0.high", "readings.0.help"}


def test_numbers_may_have_a_comma() -> None:
    form = changed(minutes="2,5")
    assert form.is_valid()
    assert form.raw()["minutes"] == 2.5


def test_lines_are_put_in_order_and_blank_ones_left_out() -> None:
    form = changed(do__0__place="9", do__1__text="")
    assert form.is_valid()
    before = step_of(data_of(shipped_folder().checklist("sits-low")), "free-port-at-maximum")["do"]
    assert form.raw()["do"] == [*before[2:], before[0]]


def test_a_line_for_some_forks_only() -> None:
    form = changed(do__0__when=["foot_fastener=bolt", "bleed_buttons=false", "foot_fastener=nut"])
    assert form.is_valid()
    assert form.raw()["do"][0]["when"] == {"foot_fastener": ["bolt", "nut"], "bleed_buttons": [False]}


def test_a_refused_row_keeps_its_place_after_a_blank_one() -> None:
    form = changed(
        readings__0__label="", readings__1__label="Depth", readings__1__quantity="length", readings__1__unit="mm",
        readings__1__low="0 mm", readings__1__high="9 mm", readings__1__help="",
    )  # fmt: skip
    assert not form.is_valid()
    assert list(form.errors) == ["readings.1.help"]


def test_a_new_reading_is_named_for_its_label_and_says_what_it_is() -> None:
    new = {"readings__4__label": "Depth at rest", "readings__4__quantity": "length", "readings__4__unit": "mm",
           "readings__4__low": "0 mm", "readings__4__high": "9 mm", "readings__4__help": "From the top."}  # fmt: skip
    named = changed(**new)
    assert named.is_valid(), named.errors
    assert named.raw()["readings"][4]["key"] == "depth_at_rest"
    used = changed(**new, readings__4__measures="sag")
    assert used.is_valid()
    assert (used.raw()["readings"][4]["key"], used.raw()["readings"][4]["measures"]) == ("depth_at_rest", "sag")
    assert "measures" not in named.raw()["readings"][4]


def test_what_is_not_in_the_lists_is_refused() -> None:
    form = changed(cautions=["dragons"], needs=["nowhere"], bolts=["none"])
    assert not form.is_valid()
    assert set(form.errors) == {"cautions", "needs", "bolts"}


class TestTheStateOfTheUnit:
    """A row of boxes for each part, and what is ticked said in words before anything is opened."""

    def test_each_part_has_a_row_of_its_own_conditions(self) -> None:
        data = data_of(shipped_folder().checklist("loses-air"))
        form = form_for(data, "top-cap-reseal")
        rows = dict(form.requires_by_part.rows)
        choices: Any = getattr(form.fields["requires"], "choices")  # noqa: B009  a choice field, which its base does not say
        assert [words for _, words in rows["Lowers"]] == [
            "closed, or as it came in", "as it came in", "the lowers are off", "the lowers are on",
        ]  # fmt: skip
        assert sum(len(boxes) for boxes in rows.values()) == len(choices)
        ticked = [words for boxes in rows.values() for box, words in boxes if box.data["selected"]]
        assert ticked == ["the positive air chamber is empty", "the negative air chamber is empty"]

    def test_what_is_ticked_is_said(self) -> None:
        data = data_of(shipped_folder().checklist("loses-air"))
        form = form_for(data, "top-cap-reseal")
        said = "the positive air chamber is empty; the negative air chamber is empty"
        assert (form.requires_by_part.said, form.opens_said) == (said, "top cap")
        left = {str(group["words"]): group["leaves"].said for group in form.answer_groups}
        assert left == {"done": "the top cap has a new seal", "left out": "Seal of the top cap: as it was before"}

    def test_only_an_unsure_answer_says_that_it_leaves_parts_unknown(self) -> None:
        data = data_of(shipped_folder().checklist("loses-air"))
        fields = form_for(data, "soap-valve").fields
        assert "not known any more" in str(fields["answers.cant_tell.leaves"].help_text)
        assert "not known any more" not in str(fields["answers.found.leaves"].help_text)
