"""What is counted is asked how many, what is poured how much, and what comes in bottles by the bottle."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.factories import PartFactory
from workshop.stores.forms import CountForm, ReceiveForm, WriteOffForm


@pytest.mark.parametrize(
    ("form", "field", "many", "much"),
    [
        (ReceiveForm, "quantity", "How many came in", "How much came in"),
        (CountForm, "counted", "How many are on the shelf", "How much is on the shelf"),
        (WriteOffForm, "quantity", "How many are written off", "How much is written off"),
    ],
)
def test_each_form_asks_for_its_part(
    form: type[ReceiveForm | CountForm | WriteOffForm], field: str, many: str, much: str
) -> None:
    assert form(part=PartFactory.build(measure="piece")).fields[field].label == many
    poured = form(part=PartFactory.build(measure="ml")).fields[field]
    assert (poured.label, getattr(poured, "unit", "")) == (much, "ml")


def test_what_comes_in_bottles_is_asked_by_the_bottle() -> None:
    oil = PartFactory.build(measure="ml", bottle_ml=Decimal(500))
    assert ReceiveForm(part=oil).fields["quantity"].label == "How many bottles came in"
    assert WriteOffForm(part=oil).fields["quantity"].label == "How much is written off"
