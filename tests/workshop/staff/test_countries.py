"""What follows from a shop's country, without a database."""

from __future__ import annotations

import pytest

from workshop.charges.models import TaxRules
from workshop.promise.closed import countries
from workshop.staff import countries as rules
from workshop.staff.countries import TAX_NAMES, tax_number_name, usual_paper, usual_tax_name


@pytest.mark.parametrize(
    ("country", "paper", "tax", "name"),
    [
        ("", "A4", "VAT", "Tax number"),
        ("GB", "A4", "VAT", "VAT number"),
        ("DE", "A4", "VAT", "Tax number"),
        ("US", "Letter", "Sales tax", "Tax number"),
        ("CA", "Letter", "GST/HST", "GST/HST number"),
        ("AU", "A4", "GST", "ABN"),
    ],
)
def test_paper_and_names_of_the_tax_follow_the_country(country: str, paper: str, tax: str, name: str) -> None:
    assert (usual_paper(country), usual_tax_name(country), tax_number_name(country)) == (paper, tax, name)


def test_each_country_of_the_rules_can_be_chosen() -> None:
    known = {code for code, _ in countries()}
    assert {*rules._LETTER, *TAX_NAMES} <= known
    assert all(len(code) == 2 for code in known)
    longest = TaxRules._meta.get_field("name").max_length or 0
    assert all(len(names.tax) <= longest for names in TAX_NAMES.values())
