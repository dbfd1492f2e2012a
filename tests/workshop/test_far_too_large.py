"""Numbers as large as can be typed, in every address, query and form; and every form pressed twice."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator, Sequence
from typing import Any

import pytest
from django.apps import apps
from django.core.handlers.wsgi import WSGIRequest
from django.db import connection, transaction
from django.test import Client
from django.urls import NoReverseMatch, reverse

from specs.quantities import QUANTITIES
from tests.addresses import parts_of
from tests.forms_on_pages import Field, FoundForm
from tests.full_shop import FullShop, full_shop
from tests.workshop.test_hostile_input import found_forms, read_names
from tests.workshop.test_who_may_enter import the_table, undone
from workshop.web import text

# The largest that a column takes, and the first that none does: test_hostile_input sends the others now and then.
LARGE = (2**63 - 1, 2**63)
EVERY_LARGE = (*LARGE, 2**31, 10**30, 0)
FAR_DAYS = ("9999-12-31", "9999-12-01", "0001-01-01", "10000-01-01")
# A PDF each time; a hashed password each time.
# What may be said twice: a further reading or word on the same day, a further link, a reminder skipped once more, and
# a checklist of the shop's own, which is a draft until somebody puts it in use.
AGAIN = {
    "customer:make_link", "customer:say_hours", "intervals:counter", "intervals:weekly", "office:checklist_new",
    "office:reminders_skip",
}  # fmt: skip
SLOW = {"documents:issue", "office:staff_password", "office:staff_new", "sign_in"}
# What is added by the form that also changes it, under test there.
SAME_FORM = {"office:draft_step_add", "office:specs_model_new", "stores:new_part", "stores:add_torque_tool"}


@pytest.fixture
def shop(db: None) -> FullShop:
    return full_shop("Aldermoor")


@pytest.fixture
def owner(client: Client, shop: FullShop) -> Client:
    client.force_login(shop.owner)
    return client


def broken(client: Client, method: str, address: str, sent: dict[str, Any] | None = None) -> str:
    """What the server raised, or "" where it answered."""
    try:
        response = undone(client, method, address, sent)
    except Exception as error:
        return f"{method.upper()} {address} {sent or ''}: {type(error).__name__}: {error}"[:400]
    return f"{method.upper()} {address}: {response.status_code}" if response.status_code >= 500 else ""


def numbered_addresses(shop: FullShop, numbers: Sequence[int]) -> Iterator[tuple[str, str, str]]:
    """Route, method and address, with a large number for each part that is one."""
    for route, row in the_table().items():
        parts = shop.arguments(route, parts_of(route))
        for part in parts:
            for large in numbers:
                try:
                    address = reverse(route, kwargs={**parts, part: large})
                except NoReverseMatch:
                    continue
                methods = [
                    method for method, who in row.items() if who != "-" and (method == "get" or row["get"] == "-")
                ]
                yield from ((route, method, address) for method in methods)


@pytest.mark.parametrize("numbers", [LARGE, pytest.param(EVERY_LARGE, marks=pytest.mark.long)], ids=["two", "all"])
def test_no_address_breaks_at_a_large_number(owner: Client, shop: FullShop, numbers: tuple[int, ...]) -> None:
    tried = list(numbered_addresses(shop, numbers))
    assert len({route for route, _, _ in tried}) > 80
    found = [fault for _, method, address in tried if (fault := broken(owner, method, address))]
    assert not found, f"{len(found)}\n" + "\n".join(found)


@pytest.fixture
def looked_at(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The path of each request whose query something looked into, but for the middleware that looks for NUL in all."""
    paths: list[str] = []
    query = WSGIRequest.__dict__["GET"].func

    def look(request: WSGIRequest) -> Any:
        if sys._getframe(1).f_globals["__name__"] != text.__name__:
            paths.append(request.path)
        return query(request)

    monkeypatch.setattr(WSGIRequest, "GET", property(look))
    return paths


def test_no_query_breaks_at_a_large_number_or_a_far_day(owner: Client, shop: FullShop, looked_at: list[str]) -> None:
    """A page that did not look into its query the first time is not asked again: nothing in it can break it."""
    names = read_names("GET") | {
        "first",
        "last",
        "from",
        "to",
        "travel_1",
        "unit",
        "customer",
        "bike",
        "model",
        "ticket",
    }
    found, looking = [], 0
    for route, row in the_table().items():
        if row["get"] == "-":
            continue
        address = reverse(route, kwargs=shop.arguments(route, parts_of(route)))
        looked_at.clear()
        for value in (2**31, 2**63, *FAR_DAYS):
            found.append(broken(owner, "get", address, dict.fromkeys(names, str(value))))
            if not looked_at:
                break
        looking += bool(looked_at)
    found = [fault for fault in found if fault]
    assert looking > 30
    assert not found, f"{len(found)}\n" + "\n".join(found)


_OF_A_QUANTITY = re.compile(rf"(.+?)_({'|'.join(QUANTITIES)})")


def row_of(name: str, form: FoundForm) -> str:
    """The same for fields that the same lines read in the same way.

    A page of spec values has seven fields for each of fifty quantities: what is typed is read by its dimension, and
    where a value is stored it is compared with that.
    """
    matched = _OF_A_QUANTITY.fullmatch(name)
    stored = form.fields.get(f"seen_{matched[2]}") if matched else None
    if matched is None or stored is None:
        return re.sub(r"\d+", "0", name)
    dimension = QUANTITIES[matched[2]].dimension if matched[1] == "value" else ""
    return f"{matched[1]} {dimension} {bool(stored.values)}"


def fields_tried(route: str, form: FoundForm, every: bool) -> Iterator[tuple[str, Field]]:
    """Of a form's fields all, or one of each row, and of a form that has two addresses those of one."""
    rows = set()
    for name, one in form.fields.items():
        row = row_of(name, form)
        if name == "csrfmiddlewaretoken" or one.kind in {"file", "textarea", "password"}:
            continue
        if not every and (route in SAME_FORM or row in rows):
            continue
        rows.add(row)
        yield name, one


def test_of_many_spec_values_one_of_each_dimension_is_tried_stored_or_not() -> None:
    fields: dict[str, Field] = {}
    for number, key in enumerate(QUANTITIES):
        stored = [str(number)] if number % 2 else []
        fields |= {f"value_{key}": Field(f"value_{key}", "text"), f"why_{key}": Field(f"why_{key}", "text")}
        fields |= {f"seen_{key}": Field(f"seen_{key}", "hidden", stored)}
    form = FoundForm("/page/", "post", ["/page/"], fields)
    tried = [name for name, _ in fields_tried("office:specs_page", form, every=False)]
    typed = [name.removeprefix("value_") for name in tried if name.startswith("value_")]
    assert {(QUANTITIES[key].dimension, bool(fields[f"seen_{key}"].values)) for key in typed} == {
        (QUANTITIES[key].dimension, bool(number % 2)) for number, key in enumerate(QUANTITIES)
    }
    assert [name.partition("_")[0] for name in tried if not name.startswith("value_")] == ["why", "seen"] * 2
    assert len(tried) < len(fields) / 4
    assert len(list(fields_tried("office:specs_page", form, every=True))) == len(fields)


@pytest.mark.parametrize("every", [False, pytest.param(True, marks=pytest.mark.long)])
def test_no_field_of_a_form_breaks_at_a_large_number_or_a_far_day(owner: Client, shop: FullShop, every: bool) -> None:
    """One field at a time, so that the rest is accepted and what was typed goes on into the rules and the database."""
    found, tried = [], 0
    for route, method, address, form, sender in found_forms(owner, shop):
        if route in SLOW:
            continue
        for name, one in fields_tried(route, form, every):
            large = ("9999-12-31", "0001-01-01") if one.kind == "date" else (str(2**63),)
            tried += len(large)
            found += [broken(sender, method, address, {**form.filled(), name: value}) for value in large]
    assert tried > 300
    found = [fault for fault in found if fault]
    assert not found, f"{len(found)}\n" + "\n".join(found)


def test_the_books_of_all_days_are_those_of_every_ticket(owner: Client, shop: FullShop) -> None:
    """From the first day of the calendar to its last is no fault, and leaves nothing out."""
    response = owner.get(reverse("office:books"), {"first": "0001-01-01", "last": "9999-12-31"})
    assert response.status_code == 200
    assert shop.taken in response.content.decode()


def test_no_form_breaks_when_it_is_pressed_twice(owner: Client, shop: FullShop) -> None:
    """Sent as the page gave it, and sent again: the second is answered too, and where it wrote a row, see AGAIN."""
    found, twice = [], set()
    for route, method, address, form, sender in found_forms(owner, shop):
        if method != "post" or route in SLOW | {"sign_out"}:
            continue
        try:
            with transaction.atomic():
                counts, before = [], rows()
                for _ in range(2):
                    status = sender.post(address, form.filled()).status_code
                    after = rows()
                    counts.append({name for name, number in after.items() if number > before[name]})
                    before = after
                    if status >= 500:
                        found.append(f"{route} {address}: {status}")
                twice |= {route} if counts[0] and counts[1] else set()
                transaction.set_rollback(True)
        except Exception as error:
            found.append(f"{route} {address} {form.filled()}: {type(error).__name__}: {error}"[:300])
        owner.force_login(shop.owner)
    assert not found, "\n".join(found)
    assert twice <= AGAIN, " ".join(sorted(twice - AGAIN))


def rows() -> dict[str, int]:
    """Rows of each table that keeps what people did, counted in one query."""
    kept = [model for app in ("workshop", "diagnosis", "specs") for model in apps.get_app_config(app).get_models()]
    counts = ", ".join(f'(SELECT count(*) FROM "{model._meta.db_table}")' for model in kept)  # noqa: S608  the names of our own tables
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {counts}")
        return dict(zip([model.__name__ for model in kept], cursor.fetchone(), strict=True))
