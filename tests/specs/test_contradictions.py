"""Facts that cannot all be true are said at their field, and the database does not take them."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from specs.contradictions import contradictions
from specs.facts import FACTS, FactValue
from specs.models import SuspensionModel
from tests.factories import SuspensionModelFactory

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
