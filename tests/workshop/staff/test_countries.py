"""What follows from a shop's country, without a database."""

from __future__ import annotations

import pytest

from workshop.promise.closed import countries
from workshop.staff import countries as rules
from workshop.staff.countries import tax_number_name, usual_paper


@pytest.mark.parametrize(
    ("country", "paper", "name"),
    [
        ("", "A4", "Tax number"),
        ("GB", "A4", "VAT number"),
        ("DE", "A4", "Tax number"),
        ("US", "Letter", "Tax number"),
        ("CA", "Letter", "GST/HST number"),
        ("AU", "A4", "ABN"),
    ],
)
def test_paper_and_name_of_the_tax_number_follow_the_country(country: str, paper: str, name: str) -> None:
    assert (usual_paper(country), tax_number_name(country)) == (paper, name)


def test_each_country_of_the_rules_can_be_chosen() -> None:
    known = {code for code, _ in countries()}
    assert {*rules._LETTER, *rules._VAT, *rules._NAMES} <= known
    assert all(len(code) == 2 for code in known)
