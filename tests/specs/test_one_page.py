"""Values typed down one page: the rules of a single value, all rows or none, blanks that stay missing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from django.db import IntegrityError, transaction

from specs.entering import ValueSource, change_value, check_value, copy_value, withdraw_value
from specs.models import SpecValue, SuspensionModel
from specs.one_page import PageRefused, PageSaved, TypedRow, save_page, split_tolerance, text_in_field
from tests.at_once import at_once
from tests.factories import SpecValueFactory, SuspensionModelFactory, UserFactory
from workshop.staff.models import User

pytestmark = pytest.mark.django_db

MANUAL = ValueSource("Manual", "B", "12")


@pytest.fixture
def plume() -> SuspensionModel:
    return SuspensionModelFactory(maker="Kestrigan", name="Plume", travels_mm=[130, 140])


@pytest.fixture
def sister() -> SuspensionModel:
    return SuspensionModelFactory(maker="Kestrigan", name="Plume Wide", travels_mm=[150])


@pytest.fixture
def person() -> User:
    return UserFactory()


@pytest.fixture
def torque(plume: SuspensionModel) -> SpecValue:
    return SpecValueFactory(model=plume, quantity="axle_torque", typed="12 N·m", magnitude_si=12.0)


def _row(quantity: str, typed: str, **more: object) -> TypedRow:
    return replace(TypedRow(quantity, typed, MANUAL, unit="N·m"), **more)  # type: ignore[arg-type]


def _save(model: SuspensionModel, person: User, *rows: TypedRow, travel_mm: int = 0) -> PageSaved:
    return save_page(model=model, travel_mm=travel_mm, rows=rows, entered_by=person)


def _current(model: SuspensionModel) -> dict[str, str]:
    values = SpecValue.objects.filter(model=model, is_current=True, withdrawn=False)
    return {value.quantity: value.typed for value in values}


def test_what_was_typed_is_entered_with_the_source_of_the_run_and_a_blank_stays_missing(
    plume: SuspensionModel, person: User
) -> None:
    saved = _save(plume, person, _row("axle_torque", "12"), _row("stem_torque", " "), _row("caliper_torque", "7 N·m"))
    assert saved.entered == ["axle_torque", "caliper_torque"]
    assert _current(plume) == {"axle_torque": "12 N·m", "caliper_torque": "7 N·m"}
    assert {value.source for value in SpecValue.objects.all()} == {"Manual, B, p. 12"}
    assert not SpecValue.objects.exclude(checked_at=None).exists()
    assert {value.entered_by for value in SpecValue.objects.all()} == {person}


def test_one_refused_value_keeps_all_from_being_saved_and_names_every_fault(
    plume: SuspensionModel, person: User
) -> None:
    with pytest.raises(PageRefused) as refused:
        _save(
            plume, person, _row("caliper_torque", "7"), _row("axle_torque", "120"), _row("stem_torque", "five"),
            _row("seal_head_torque", "9", source=ValueSource(" ")),
        )  # fmt: skip
    assert set(refused.value.faults) == {"axle_torque", "stem_torque", "seal_head_torque"}
    assert "was the decimal point lost" in refused.value.faults["axle_torque"]["typed"]
    assert set(refused.value.faults["seal_head_torque"]) == {"source_document"}
    assert not SpecValue.objects.exists()


def test_a_value_that_the_facts_rule_out_is_refused_at_its_row(person: User) -> None:
    single = SuspensionModelFactory(crowns="single")
    with pytest.raises(PageRefused) as refused:
        _save(single, person, _row("upper_crown_torque", "7"))
    assert "One of the two is wrong" in refused.value.faults["upper_crown_torque"]["typed"]


def test_a_row_left_as_it_stood_is_not_touched_even_where_it_was_changed_meanwhile(
    plume: SuspensionModel, torque: SpecValue, person: User
) -> None:
    change_value(seen=torque, typed="13 N·m", source=MANUAL, entered_by=UserFactory())
    assert not _save(plume, person, _row("axle_torque", "12 N·m", seen=torque))
    assert _current(plume) == {"axle_torque": "13 N·m"}


def test_a_changed_value_is_the_next_version_and_waits_for_a_new_check(
    plume: SuspensionModel, torque: SpecValue, person: User
) -> None:
    check_value(value=torque, checked_by=UserFactory())
    assert _save(plume, person, _row("axle_torque", "13", seen=torque)).changed == ["axle_torque"]
    current = SpecValue.objects.get(is_current=True)
    assert (current.number, current.typed, current.is_checked) == (2, "13 N·m", False)


def test_another_source_alone_is_a_change(plume: SuspensionModel, torque: SpecValue, person: User) -> None:
    letter = ValueSource("Letter")
    row = _row("axle_torque", "12 N·m", seen=torque, source=letter, own_source=True)
    assert _save(plume, person, row).changed == ["axle_torque"]
    assert SpecValue.objects.get(is_current=True).source == "Letter"


def test_an_emptied_value_asks_and_is_withdrawn_only_with_a_reason(
    plume: SuspensionModel, torque: SpecValue, person: User
) -> None:
    with pytest.raises(PageRefused) as refused:
        _save(plume, person, _row("axle_torque", "", seen=torque))
    assert "12 N·m" in refused.value.faults["axle_torque"]["typed"]
    assert _current(plume) == {"axle_torque": "12 N·m"}
    saved = _save(plume, person, _row("axle_torque", "", seen=torque, why="It is of the wide model."))
    assert saved.withdrawn == ["axle_torque"]
    assert saved.waiting == 0
    assert _current(plume) == {}


def test_a_source_without_a_value_asks_for_the_value(plume: SuspensionModel, person: User) -> None:
    with pytest.raises(PageRefused) as refused:
        _save(plume, person, _row("axle_torque", "", own_source=True))
    assert "source of" in refused.value.faults["axle_torque"]["typed"]


def test_sent_twice_is_written_once(
    plume: SuspensionModel, sister: SuspensionModel, torque: SpecValue, person: User
) -> None:
    theirs = SpecValueFactory(model=sister, quantity="stem_torque", typed="5 N·m", magnitude_si=5.0)
    rows = (
        _row("axle_torque", "13", seen=torque), _row("caliper_torque", "7 ±0.5 N·m"),
        _row("stem_torque", "5 N·m", copy_of=theirs),
    )  # fmt: skip
    assert _save(plume, person, *rows).waiting == 3
    before = list(SpecValue.objects.values())
    assert not _save(plume, person, *rows)
    assert list(SpecValue.objects.values()) == before


def test_withdrawn_twice_is_withdrawn_once(plume: SuspensionModel, torque: SpecValue, person: User) -> None:
    row = _row("axle_torque", "", seen=torque, why="Wrong model.")
    assert _save(plume, person, row).withdrawn
    assert not _save(plume, person, row)
    assert SpecValue.objects.count() == 2


def test_what_somebody_else_wrote_meanwhile_is_told_and_nothing_is_saved(
    plume: SuspensionModel, torque: SpecValue, person: User
) -> None:
    theirs = change_value(seen=torque, typed="14 N·m", source=MANUAL, entered_by=UserFactory())
    entered = SpecValueFactory(model=plume, quantity="stem_torque", typed="4 N·m", magnitude_si=4.0)
    with pytest.raises(PageRefused) as refused:
        _save(
            plume, person, _row("axle_torque", "13", seen=torque), _row("stem_torque", "5"),
            _row("caliper_torque", "7"),
        )  # fmt: skip
    assert refused.value.meanwhile == {"axle_torque": theirs, "stem_torque": entered}
    assert _current(plume) == {"axle_torque": "14 N·m", "stem_torque": "4 N·m"}


def test_what_somebody_withdrew_meanwhile_is_told(plume: SuspensionModel, torque: SpecValue, person: User) -> None:
    gone = withdraw_value(seen=torque, why="Wrong.", entered_by=UserFactory())
    with pytest.raises(PageRefused) as refused:
        _save(plume, person, _row("axle_torque", "13", seen=torque))
    assert refused.value.meanwhile == {"axle_torque": gone}
    assert _save(plume, person, _row("axle_torque", "13")).entered == ["axle_torque"]


def test_a_copied_value_says_so_keeps_its_source_and_is_not_checked(
    plume: SuspensionModel, sister: SuspensionModel, person: User
) -> None:
    theirs = SpecValueFactory(
        model=sister, quantity="axle_torque", typed="12 N·m", magnitude_si=12.0, tolerance_si=0.5, is_demo=True,
        source_document="Wide manual", source_page="3",
    )  # fmt: skip
    check_value(value=theirs, checked_by=UserFactory())
    assert _save(plume, person, _row("axle_torque", text_in_field(theirs), copy_of=theirs)).copied == ["axle_torque"]
    copied = SpecValue.objects.get(model=plume)
    assert (copied.copied_from, copied.source, copied.is_checked) == (sister, "Wide manual, A, p. 3", False)
    assert (copied.tolerance_si, copied.is_demo, copied.entered_by) == (0.5, True, person)
    changed = change_value(seen=copied, typed="13 N·m", source=MANUAL, entered_by=person)
    assert changed.copied_from is None


def test_a_copied_value_that_was_typed_over_has_the_source_of_the_page(
    plume: SuspensionModel, sister: SuspensionModel, person: User
) -> None:
    theirs = SpecValueFactory(model=sister, quantity="axle_torque", typed="12 N·m", magnitude_si=12.0)
    _save(plume, person, _row("axle_torque", "13", copy_of=theirs))
    value = SpecValue.objects.get(model=plume)
    assert (value.copied_from, value.source) == (None, "Manual, B, p. 12")


def test_a_copy_of_what_changed_at_the_sister_is_refused(
    plume: SuspensionModel, sister: SuspensionModel, person: User
) -> None:
    theirs = SpecValueFactory(model=sister, quantity="axle_torque", typed="12 N·m", magnitude_si=12.0)
    change_value(seen=theirs, typed="14 N·m", source=MANUAL, entered_by=person)
    with pytest.raises(PageRefused) as refused:
        _save(plume, person, _row("axle_torque", "12 N·m", copy_of=theirs))
    assert "Plume Wide" in refused.value.faults["axle_torque"]["typed"]


def test_nothing_is_copied_from_another_kind_of_unit_or_from_itself(plume: SuspensionModel, person: User) -> None:
    shock = SpecValueFactory(model=SuspensionModelFactory(kind="shock"))
    own = SpecValueFactory(model=plume)
    for theirs in (shock, own):
        with pytest.raises(PageRefused) as refused:
            _save(plume, person, _row("max_pressure", text_in_field(theirs), copy_of=theirs))
        assert "another fork" in refused.value.faults["max_pressure"]["typed"]
    with pytest.raises(Exception, match="another fork"):
        copy_value(theirs=shock, model=plume, entered_by=person)


@pytest.mark.parametrize(
    ("quantity", "text", "parts"),
    [
        ("axle_torque", "8", ("8", "")),
        ("axle_torque", "8 ±0.5 N·m", ("8 N·m", "0.5 N·m")),
        ("axle_torque", "8 N·m +/- 0,5", ("8 N·m", "0,5")),
        ("axle_torque", "8 +-5 %", ("8", "5 %")),
        ("sag_low", "20 ±2 %", ("20 %", "2 %")),
        ("damper_oil", "Fell ± Fluid", ("Fell ± Fluid", "")),
    ],
)
def test_a_tolerance_is_typed_with_its_value(quantity: str, text: str, parts: tuple[str, str]) -> None:
    assert split_tolerance(quantity, text) == parts


def test_a_field_shows_the_tolerance_and_sent_as_it_stands_nothing_changes(
    plume: SuspensionModel, person: User
) -> None:
    _save(plume, person, _row("axle_torque", "12 ±5 %"), _row("sag_low", "20 ±2 %"))
    for value in SpecValue.objects.all():
        assert "±" in text_in_field(value)
        retyped = _row(value.quantity, text_in_field(value) + " ", seen=value, own_source=True)
        assert not _save(plume, person, retyped)


@pytest.mark.django_db(transaction=True)
def test_of_two_who_save_the_page_at_once_one_is_told_and_no_half_page_is_saved() -> None:
    model, people = SuspensionModelFactory(), [UserFactory(), UserFactory()]
    stored = SpecValueFactory(model=model, quantity="axle_torque", typed="12 N·m", magnitude_si=12.0)

    def save(number: int) -> bool:
        rows = [
            _row("axle_torque", str(13 + number), seen=stored), _row("stem_torque", str(5 + number)),
            _row("caliper_torque", str(7 + number)),
        ]  # fmt: skip
        try:
            return bool(_save(model, people[number], *(rows if number else reversed(rows))))
        except PageRefused:
            return False

    assert sorted(at_once(save, people=2)) == [False, True]
    current = SpecValue.objects.filter(model=model, is_current=True)
    assert current.count() == 3
    assert len({value.entered_by_id for value in current}) == 1


def test_the_database_refuses_a_value_copied_from_its_own_model(torque: SpecValue) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        SpecValue.objects.filter(pk=torque.pk).update(copied_from=torque.model_id)
