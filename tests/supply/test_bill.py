"""The list of parts is that of the locks and of static/, each part with a licence that the project takes."""

from __future__ import annotations

import hashlib
import json
import re
from functools import cache
from importlib.metadata import distributions
from pathlib import Path
from typing import Any

import pytest
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator
from django.conf import settings
from django.utils import timezone

from workshop.management.bill import make_bill, parts_alone
from workshop.management.licences import is_expression, licences_of, may_be_used, own_word, read_licences
from workshop.management.pins import Pin, changes, read_pins, read_script_tools

BASE = Path(settings.BASE_DIR)
FOLDER = BASE / ".requirements"
BILL = FOLDER / "sbom.cdx.json"
pytestmark = pytest.mark.any_database


@cache
def parts() -> dict[str, dict[str, Any]]:
    return {part["bom-ref"]: part for part in json.loads(BILL.read_text())["components"]}


def licence(part: dict[str, Any]) -> str:
    [said] = part["licenses"]
    return str(said["expression"])


def packages() -> dict[tuple[str, str], dict[str, Any]]:
    return {
        (one["name"], one["version"]): one for one in parts().values() if one.get("purl", "").startswith("pkg:pypi")
    }


def test_the_list_is_as_its_format_asks() -> None:
    validator = JsonStrictValidator(SchemaVersion.V1_6)
    assert validator.validate_str(BILL.read_text()) is None
    assert validator.validate_str('{"bomFormat": "CycloneDX", "specVersion": "1.6", "parts": []}') is not None


def test_each_pin_of_each_lock_is_in_the_list_with_its_hashes() -> None:
    pins = read_pins(FOLDER)
    locked = {
        (name, version)
        for lock in ("shop", "bucket", "tests", "audit")
        for name, version in re.findall(
            r"^([\w.-]+)(?:\[.*?])?==([^\s;\\]+)", (FOLDER / f"{lock}.lock").read_text(), re.MULTILINE
        )
    }
    assert {pin.key for pin in pins} == locked == set(packages()), "Run python3 manage.py lock."
    for pin in pins:
        listed = packages()[pin.key]
        assert {one["content"] for one in listed["hashes"]} == set(pin.sha256) != set()
        assert (listed["scope"] == "required") == pin.in_shop


def test_the_list_made_anew_is_the_one_that_is_kept() -> None:
    known = read_licences(FOLDER / "licences.toml")
    said = {key: licence(one) for key, one in packages().items()}
    tools = read_script_tools(BASE / ".tools" / "package-lock.json")
    anew = make_bill(
        BASE, pins=read_pins(FOLDER), licence_of=said, shipped=known.shipped, tools=tools, made_at=timezone.now()
    )
    assert parts_alone(anew) == parts_alone(BILL.read_text()), "Run python3 manage.py lock."


def test_every_part_has_a_licence_that_is_allowed() -> None:
    known = read_licences(FOLDER / "licences.toml")
    refused = {
        ref: licence(part)
        for ref, part in parts().items()
        if not may_be_used(licence(part), known.allowed if part["scope"] == "required" else known.allowed_for_tools)
    }
    assert refused == {}
    assert len(parts()) > 150


@cache
def here() -> tuple[tuple[str, str, str], ...]:
    """Of each package of this environment name, version and what it says itself of its licence."""
    return tuple((one.name.lower().replace("_", "-"), one.version, own_word(one)) for one in distributions())


def test_licences_are_those_that_the_packages_here_say_of_themselves() -> None:
    known = read_licences(FOLDER / "licences.toml")
    listed = {key: licence(one) for key, one in packages().items()}
    told = {(name, version): word or known.said.get(name, "") for name, version, word in here()}
    both = told.keys() & listed.keys()
    assert len(both) > 80
    assert {key: told[key] for key in both} == {key: listed[key] for key in both}


def test_a_licence_is_told_by_hand_only_where_its_package_says_none() -> None:
    known = read_licences(FOLDER / "licences.toml")
    assert set(known.said) <= {pin.name for pin in read_pins(FOLDER)}
    assert not set(known.said) & {name for name, _, word in here() if word}
    assert all(is_expression(one) for one in known.said.values())


def test_everything_of_others_in_static_is_in_the_list_and_named_to_people() -> None:
    notices = (BASE / "static" / "NOTICES.md").read_text()
    kept = {
        str(path.relative_to(BASE))
        for folder in ("vendor", "fonts")
        for path in (BASE / "static" / folder).iterdir()
        if path.name not in {"OFL.txt", "htmx.LICENSE"}
    }
    assert kept == {ref for ref in parts() if ref.startswith("static/")}
    for ref in kept:
        [content] = parts()[ref]["hashes"]
        assert content["content"] == hashlib.sha256((BASE / ref).read_bytes()).hexdigest()
        assert parts()[ref]["description"] in notices
    htmx = parts()["static/vendor/htmx.min.js"]["version"]
    assert f'version:"{htmx}"' in (BASE / "static" / "vendor" / "htmx.min.js").read_text()
    assert f"htmx {htmx}" in notices
    assert (
        parts()["static/fonts/atkinson-hyperlegible-next-400.woff2"]["version"]
        in (BASE / "static" / "README.md").read_text()
    )


@pytest.mark.parametrize(
    ("expression", "usable"),
    [
        ("MIT", True), ("MIT AND Zlib", True), ("MIT AND GPL-3.0-only", False), ("GPL-3.0-only OR MIT", True),
        ("(GPL-3.0-only OR MIT) AND Zlib", True), ("", False), ("BSD", False), ("Apache License, Version 2.0", False),
        ("unknown", False), ("GPL-2.0-only WITH Classpath-exception-2.0", False),
    ],
)  # fmt: skip
def test_an_expression_may_be_used_where_some_way_of_taking_it_is_allowed(expression: str, usable: bool) -> None:
    assert may_be_used(expression, {"MIT", "Zlib"}) == usable


def test_a_package_of_which_nobody_says_a_licence_has_none() -> None:
    pin = Pin("made-up", "1.0", (), in_shop=True)
    [other] = [one for one in distributions() if one.name == "pytest"]
    assert licences_of([pin], {}, [other]) == {pin.key: ""}
    assert licences_of([pin], {"made-up": "MIT"}, [other]) == {pin.key: "MIT"}
    known = Pin("pytest", other.version, (), in_shop=True)
    assert licences_of([known], {"pytest": "0BSD"}, [other]) == {known.key: "MIT"}


def test_what_a_lock_changes_is_said_old_and_new_with_the_licence() -> None:
    before = [Pin("a", "1", (), True), Pin("b", "1", (), True), Pin("d", "1", (), False)]
    after = [Pin("a", "2", (), True), Pin("c", "1", (), False), Pin("c", "2", (), False), Pin("d", "1", (), False)]
    licences = {("a", "2"): "MIT", ("c", "1"): "0BSD", ("c", "2"): "", ("d", "1"): "ISC"}
    assert changes(before, after, licences) == [
        "a 1 → 2 (MIT)", "b 1 → gone", "c new → 1, 2 (0BSD / licence unknown)",
    ]  # fmt: skip
