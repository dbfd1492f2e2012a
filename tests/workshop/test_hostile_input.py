"""Whatever is sent to any form or address, the answer is never an error of the server.

The forms are those found on the pages themselves, so that a new one is under test from its first day.
HYPOTHESIS_PROFILE=thorough tries many times as much, FUZZ_SECONDS=600 goes on for ten minutes, each round otherwise.
What stands in `corpus_of_forms.jsonl` is sent in every run; a failure prints the line that belongs there.
"""

from __future__ import annotations

import json
import os
import random
import re
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as shop_settings
from django.test import Client
from django.urls import NoReverseMatch, reverse
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from tests.addresses import parts_of
from tests.forms_on_pages import FoundForm, by_route, forms_on
from tests.full_shop import FullShop, full_shop
from tests.workshop.test_shops_apart import crossing_keys, shown
from tests.workshop.test_who_may_enter import the_table, undone

HOSTILE: tuple[str | bytes, ...] = (
    "", " ", "0", "-1", "-0", "1e999", "1e308", "1e-400", "NaN", "Infinity", "-Infinity", "None", "true", "[]", "{}",
    "9" * 30, "9" * 5000, str(2**31), str(2**63 - 1), str(2**63), "1" + "0" * 400 + " mm", "1/0", "9**9**9", "1e5 psi",
    "²", "٣", "１", "9999-12-31", "0001-01-01", "2026-13-45", "10000-01-01", "2026-11-25T25:61",
    "<script>alert(1)</script>", "=HYPERLINK(1)", "{{7*7}}{% x %}", "%s%n%d", "{subject.__class__}", "{0}", "{",
    "../../etc/passwd", "line\r\nBcc: somebody@elsewhere.example", "\u202e=1+1", "ﷺ" * 60, "e\u0301" * 70, "İ" * 100,
    "x" * 10_000, "a\0b", "\0", b"\xed\xa0\x80", b"\xff\xfe", "7f2c4f1e-30a4-4a6c-9f6d-3b7f5f0a9f10", "' OR 1=1 --",
)  # fmt: skip
hostile = st.one_of(
    st.sampled_from(HOSTILE),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=40),
    st.integers().map(str),
    st.floats().map(str),
    st.dates().map(str),
    st.binary(max_size=12),
)
ADDRESSES = st.one_of(
    st.sampled_from([0, 2**31, 2**63, 10**30, "x" * 3000, "a\0b", "\u202e", "²", "%", "..", "a:b", "0"]),
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20),
)
THE_SAME_DATABASE = settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None
)
CORPUS = Path(__file__).parent / "corpus_of_forms.jsonl"
FUZZ_SECONDS = float(os.environ.get("FUZZ_SECONDS", "0"))


def for_a_while(fuzz: Callable[[], None]) -> None:
    """Once; with FUZZ_SECONDS again and again until they are over, from another seed each time."""
    until = time.monotonic() + FUZZ_SECONDS
    fuzz()
    while time.monotonic() < until:
        seed(random.getrandbits(64))(fuzz)()


@pytest.fixture
def shop(db: None) -> FullShop:
    return full_shop("Aldermoor")


@pytest.fixture
def owner(client: Client, shop: FullShop) -> Client:
    client.force_login(shop.owner)
    return client


def found_forms(owner: Client, shop: FullShop) -> list[tuple[str, str, str, FoundForm, Client]]:
    """Route, method, address and fields of each form on any page, and who sends it; of each route the longest."""
    longest: dict[tuple[str, str], tuple[str, str, str, FoundForm, Client]] = {}
    for name, row in the_table().items():
        if row["get"] == "-":
            continue
        sender = Client() if row["get"] in {"link", "anyone"} else owner
        address = reverse(name, kwargs=shop.arguments(name, parts_of(name)))
        response = undone(sender, "get", address)
        if response.status_code == 200 and "html" in response["Content-Type"]:
            for route, method, target, form in by_route(forms_on(address, shown(response))):
                known = longest.get((route, method))
                if known is None or len(known[3].fields) < len(form.fields):
                    longest[route, method] = (route, method, target, form, sender)
    return list(longest.values())


def send(sender: Client, method: str, address: str, data: Mapping[str, Any]) -> int:
    """Raises what the server raised."""
    return int(undone(sender, method, address, dict(data)).status_code)


def test_no_form_breaks_whatever_is_typed_into_it(owner: Client, shop: FullShop) -> None:
    forms = [one for one in found_forms(owner, shop) if one[0] not in {"sign_out", "counter:search"} and one[3].fields]
    other = full_shop("Quillback", first_number=700, beside=shop)
    wrong_ids = st.sampled_from([str(pk) for pk in other.ids.values() if isinstance(pk, int)])
    assert len({one[0] for one in forms}) > 50

    @THE_SAME_DATABASE
    @given(st.data())
    def try_one(data: st.DataObject) -> None:
        route, method, address, form, sender = data.draw(st.sampled_from(forms))
        typed: dict[str, Any] = dict(form.filled())
        names = sorted(set(form.fields) - {"csrfmiddlewaretoken"})
        for name in data.draw(st.lists(st.sampled_from(names or ["x"]), min_size=1, max_size=4, unique=True)):
            typed[name] = data.draw(hostile | wrong_ids)
        wanted = {name: typed[name] for name in names if typed.get(name) != form.filled().get(name)}
        try:
            assert send(sender, method, address, typed) < 500, route
        except Exception as broke:
            broke.add_note(f"To send it in every run, add to {CORPUS.name}: {line_of(route, method, wanted)}")
            raise

    of_route = {(route, method): (address, form, sender) for route, method, address, form, sender in forms}
    for line in CORPUS.read_text(encoding="utf-8").splitlines():
        route, method, typed = typed_in(line)
        address, form, sender = of_route[route, method]  # a form that is gone takes its lines with it
        assert send(sender, method, address, {**form.filled(), **typed}) < 500, line
    for_a_while(try_one)
    assert crossing_keys() == []


def line_of(route: str, method: str, typed: Mapping[str, Any]) -> str:
    """A line of the corpus; bytes that are no text stand in it as surrogates."""
    as_text = {
        name: value.decode("utf-8", "surrogateescape") if isinstance(value, bytes) else value
        for name, value in typed.items()
    }
    return json.dumps([route, method, as_text])


def typed_in(line: str) -> tuple[str, str, dict[str, Any]]:
    route, method, typed = json.loads(line)
    is_bytes = re.compile("[\udc80-\udcff]")
    return route, method, {
        name: value.encode("utf-8", "surrogateescape") if isinstance(value, str) and is_bytes.search(value) else value
        for name, value in typed.items()
    }  # fmt: skip


@given(st.dictionaries(st.text(max_size=5), st.binary(max_size=8) | st.text(st.characters(exclude_categories=["Cs"]))))
def test_a_line_of_the_corpus_reads_back(typed: dict[str, Any]) -> None:
    route, method, back = typed_in(line_of("a:b", "post", typed))
    as_bytes = {name: value if isinstance(value, bytes) else value.encode() for name, value in typed.items()}
    assert (route, method) == ("a:b", "post")
    assert {name: value if isinstance(value, bytes) else value.encode() for name, value in back.items()} == as_bytes


def test_no_search_breaks_whatever_stands_in_its_query(owner: Client, shop: FullShop) -> None:
    names = read_names("GET") | {"travel_1", "pressure_1", "unit", "customer", "bike", "model"}
    for route in (
        "counter:book_in",
        "counter:search",
        "counter:tickets",
        "stores:stock",
        "office:specs",
        "bench:spring",
    ):
        address = reverse(route, kwargs=shop.arguments(route, parts_of(route)))
        for value in HOSTILE:
            assert send(owner, "get", address, dict.fromkeys(names, value)) < 500, (route, value)


def read_names(where: str) -> set[str]:
    """The names that some view reads by itself, past any form."""
    views = [path.read_text() for path in Path(shop_settings.BASE_DIR, "workshop").rglob("*.py")]
    return {name for text in views for name in re.findall(rf'{where}\.get(?:list)?\(\s*"([\w-]+)"', text)}


def test_no_address_breaks_whatever_stands_in_its_query_or_path(owner: Client, shop: FullShop) -> None:
    table = the_table()
    names = sorted(read_names("GET") | read_names("POST"))

    @THE_SAME_DATABASE
    @given(st.data())
    def try_one(data: st.DataObject) -> None:
        route = data.draw(st.sampled_from(sorted(table)))
        parts = shop.arguments(route, parts_of(route))
        if bool(parts) and data.draw(st.booleans()):
            part = data.draw(st.sampled_from(sorted(parts)))
            parts[part] = data.draw(ADDRESSES)
        try:
            address = reverse(route, kwargs=parts)
        except NoReverseMatch:
            return
        query = data.draw(st.dictionaries(st.sampled_from(names), hostile, max_size=3))
        for method, who in table[route].items():
            if who != "-" and (route, method) != ("documents:issue", "post"):  # a PDF each time; see the next test
                assert send(owner, method, address, query) < 500, (route, method)

    for_a_while(try_one)


def test_a_paper_nobody_has_is_refused_before_it_is_laid_out(owner: Client, shop: FullShop) -> None:
    address = reverse("documents:issue", kwargs=shop.arguments("documents:issue", parts_of("documents:issue")))
    for value in HOSTILE:
        if value:
            assert send(owner, "post", address, {"paper": value}) < 500
