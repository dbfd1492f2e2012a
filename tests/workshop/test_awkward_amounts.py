"""Every form that takes an amount, with awkward ones: no fault, the reason at its field, the rest kept.

The forms are those found on the pages themselves, so that a new one is under test from its first day. All amounts are
read by one function (tests/specs/test_numbers.py), so each form gets four of them in turn; `-m long` sends all to each.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import pytest
from django.test import Client

from tests.forms_on_pages import FoundForm, forms_on
from tests.full_shop import FullShop, full_shop
from tests.workshop.test_hostile_input import found_forms
from tests.workshop.test_shops_apart import shown
from tests.workshop.test_who_may_enter import undone

NO_NUMBERS = ("NaN", "Infinity", "1e9", "٣", "1/2", "9" * 400)
OTHERS = ("", "  ", "1,400", "1.400", "-1", str(2**63), "12,50")
# They look up while the form is filled in, and give back a list; the form itself is sent to counter:book_in.
LOOK_UPS = re.compile(r"counter:book_in_")
# A row of an answer without a part is blank and left out, whatever its quantity says.
BLANK_ROWS = re.compile(r"answers\..*\.parts\.\d+\.quantity")


@pytest.fixture
def shop(db: None) -> FullShop:
    return full_shop("Aldermoor")


@pytest.fixture
def owner(client: Client, shop: FullShop) -> Client:
    client.force_login(shop.owner)
    return client


def two_of(amounts: Sequence[str], turn: int) -> list[str]:
    return [amounts[(2 * turn + step) % len(amounts)] for step in (0, 1)]


@pytest.mark.parametrize("all_to_each", [False, pytest.param(True, marks=pytest.mark.long)])
def test_every_amount_comes_back_at_its_field_with_the_rest_kept(
    owner: Client, shop: FullShop, all_to_each: bool
) -> None:
    wrong: list[str] = []
    walked: set[str] = set()
    sent: set[str] = set()
    for route, method, address, form, sender in found_forms(owner, shop):
        names = [field.name for field in form.fields.values() if field.takes_amount]
        names = [name for name in names if not BLANK_ROWS.fullmatch(name)]
        if not names or LOOK_UPS.match(route):
            continue
        amounts = (
            [*NO_NUMBERS, *OTHERS] if all_to_each else two_of(NO_NUMBERS, len(walked)) + two_of(OTHERS, len(walked))
        )
        walked.add(route)
        sent.update(amounts)
        for typed in amounts:
            wrong += [
                f"{route} {typed[:20]!r}: {fault}" for fault in faults(sender, method, address, form, names, typed)
            ]
    assert len(walked) > 20, walked
    assert sent == {*NO_NUMBERS, *OTHERS}
    assert wrong == []


def faults(sender: Client, method: str, address: str, form: FoundForm, names: list[str], typed: str) -> list[str]:
    """What is wrong with the answer to a form that has an awkward amount in each of these fields."""
    data: dict[str, Any] = {
        name: list(values) for name, values in form.filled().items() if form.fields[name].kind != "button"
    } | {name: [typed] for name in names}
    answer = undone(sender, method, address, data)
    if answer.status_code >= 500:
        return [f"status {answer.status_code}"]
    if answer.status_code in {302, 303} or answer.headers["Content-Type"] == "application/pdf":
        return ["taken"] if typed in NO_NUMBERS else []
    page = shown(answer)
    back = [one for one in forms_on(address, page) if address in one.actions and names[0] in one.fields]
    if not back:
        return ["the form did not come back"]
    fields = max(back, key=lambda one: sum(field.is_wrong for field in one.fields.values())).fields
    found = [
        f"{name} is not marked" for name in names
        if typed in NO_NUMBERS and name in fields and not fields[name].is_wrong
    ]  # fmt: skip
    found += [
        f"{name} has no reason" for name in names
        if name in fields and fields[name].is_wrong and not has_reason(page, fields[name].described_by)
    ]  # fmt: skip
    if answer.status_code == 422:
        found += [
            f"{name} is lost" for name, values in data.items()
            if values[0].strip() and name in fields and fields[name].kind == "text"
            and not is_kept(values[0], fields[name].values)
        ]  # fmt: skip
    return found


def has_reason(page: str, described_by: str) -> bool:
    return any(re.search(rf'id="{re.escape(one)}"[^>]*>', page) for one in described_by.split())


def is_kept(typed: str, values: list[str]) -> bool:
    """As it was typed; of what is longer than any amount its beginning is enough."""
    return values == [typed] or (len(typed) > 40 and bool(values) and typed.startswith(values[0]))
