"""Facts that cannot all be true are said at their field, and the database does not take them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from specs.contradictions import contradictions, is_doubtful_twin_crown
from specs.entering import ValueSource, enter_value
from specs.expected import ruled_out
from specs.facts import FACTS, FactValue
from specs.models import SuspensionModel
from specs.value_rows import read_value
from tests.factories import SuspensionModelFactory, UserFactory

TOGETHER: tuple[tuple[str, Mapping[str, FactValue]], ...] = (
    ("self_equalising", {"spring_kind": "coil", "self_equalising": True}),
    ("self_equalising", {"spring_kind": "air_coil", "self_equalising": True}),
    ("ramp_chamber", {"spring_kind": "coil", "ramp_chamber": True}),
    ("ramp_chamber", {"spring_kind": "air_coil", "ramp_chamber": True}),
    ("bleed_buttons", {"inverted": True, "bleed_buttons": True}),
    ("crowns", {"kind": "shock", "crowns": "twin"}),
    ("crowns", {"kind": "shock", "crowns": "single"}),
    ("inverted", {"kind": "shock", "inverted": True}),
    ("reservoir", {"kind": "fork", "reservoir": "piggyback"}),
)
EACH = pytest.mark.parametrize(("field", "facts"), TOGETHER, ids=lambda value: str(value))


@EACH
def test_two_facts_that_cannot_both_be_true_are_said_at_one_of_them(field: str, facts: Mapping[str, FactValue]) -> None:
    assert list(contradictions(facts)) == [field]
    for fact in facts:
        assert contradictions({**facts, fact: None}) == {}  # what nobody knows contradicts nothing


@pytest.mark.parametrize("key", FACTS)
def test_no_fact_contradicts_itself(key: str) -> None:
    for value in FACTS[key].values:
        assert contradictions({key: value}) == {}


@pytest.mark.django_db
@EACH
def test_the_database_refuses_them_past_all_functions(field: str, facts: Mapping[str, FactValue]) -> None:
    kept = {"reservoir": "", "crowns": "", "bleed_buttons": None, "self_equalising": None}
    model = SuspensionModelFactory(**kept)
    with pytest.raises(IntegrityError, match="model_"), transaction.atomic():
        SuspensionModel.objects.filter(pk=model.pk).update(**facts)
    for name, value in facts.items():
        setattr(model, name, value)
    with pytest.raises(ValidationError):
        model.full_clean()


@pytest.mark.parametrize(
    ("facts", "quantity", "because"),
    [
        ({"kind": "fork", "crowns": "single"}, "lower_crown_torque", "crowns"),
        ({"kind": "shock"}, "upper_crown_torque", "kind"),
        ({"kind": "fork", "crowns": "single"}, "steerer_clamp_torque", "crowns"),
        ({"kind": "fork", "crowns": "single"}, "stem_torque", ""),
        ({"kind": "fork", "crowns": "twin"}, "lower_crown_torque", ""),
        ({}, "lower_crown_torque", ""),
    ],
)
def test_the_fact_that_rules_a_value_out_is_named(facts: Mapping[str, FactValue], quantity: str, because: str) -> None:
    assert ruled_out(facts, quantity)[0] == because


@pytest.mark.django_db
def test_a_value_of_what_a_model_has_not_is_refused_where_it_is_typed() -> None:
    model = SuspensionModelFactory(maker="Kestrigan", name="Plume", year_from=2021, crowns="single")
    written: dict[str, Any] = {"typed": "9 N·m", "source": ValueSource("Invented manual"), "entered_by": UserFactory()}
    with pytest.raises(ValidationError) as refused:
        enter_value(model=model, quantity="lower_crown_torque", **written)
    (reason,) = refused.value.message_dict["typed"]
    assert "Crowns: single crown" in reason
    cells = {
        "maker": "Kestrigan", "model": "Plume", "year_from": "2021", "quantity": "lower_crown_torque", "value": "9",
        "unit": "N·m", "source_document": "Invented manual",
    }  # fmt: skip
    with pytest.raises(ValidationError) as refused:
        read_value(cells, lambda _: model)
    assert refused.value.message_dict == {"quantity": [reason]}
    SuspensionModel.objects.filter(pk=model.pk).update(crowns="")
    model.refresh_from_db()
    enter_value(model=model, quantity="lower_crown_torque", **written)  # what nobody knows rules out nothing


def test_a_twin_crown_is_doubted_of_a_short_fork_alone() -> None:
    assert is_doubtful_twin_crown({"crowns": "twin"}, [140, 160])
    assert not is_doubtful_twin_crown({"crowns": "twin"}, [160, 200])
    assert not is_doubtful_twin_crown({"crowns": "twin"}, [])
    assert not is_doubtful_twin_crown({"crowns": "single"}, [140])
