"""Spec values are entered, changed, withdrawn and checked as versions; of two people at one value one wins."""

from __future__ import annotations

import threading
from typing import Any
from unittest.mock import patch

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction

from specs import entering
from specs.entering import (
    CheckRefused,
    ValueChangedMeanwhile,
    ValueSource,
    change_value,
    check_value,
    enter_value,
    withdraw_value,
)
from specs.models import SpecValue, SuspensionModel
from tests.factories import SpecValueFactory, SuspensionModelFactory, UserFactory
from workshop.models import User

pytestmark = pytest.mark.django_db

MANUAL = ValueSource("Invented manual for tests", "rev. B", "12")


@pytest.fixture
def model() -> SuspensionModel:
    return SuspensionModelFactory()


@pytest.fixture
def value(model: SuspensionModel) -> SpecValue:
    return enter_value(
        model=model, quantity="foot_torque_air_leg", typed="8", unit="N·m", tolerance="5 %",
        source=MANUAL, entered_by=UserFactory(),
    )  # fmt: skip


def _other_person() -> User:
    return UserFactory(mechanic=True)


def test_enters_a_first_version_that_waits_for_a_check(value: SpecValue) -> None:
    value.refresh_from_db()
    assert (value.number, value.is_current, value.is_checked) == (1, True, False)
    assert (value.magnitude_si, value.typed) == (8.0, "8 N·m")
    assert value.tolerance_si == pytest.approx(0.4)
    assert value.source == "Invented manual for tests, rev. B, p. 12"


def test_a_travel_has_a_value_of_its_own(model: SuspensionModel) -> None:
    for travel_mm, typed in ((0, "120 psi"), (140, "110 psi")):
        enter_value(
            model=model, quantity="max_pressure", typed=typed, source=MANUAL,
            entered_by=UserFactory(), travel_mm=travel_mm,
        )  # fmt: skip
    assert SpecValue.objects.filter(model=model, is_current=True).count() == 2


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"quantity": "colour"}, "quantity"),
        ({"typed": "80 N·m"}, "typed"),
        ({"typed": "8 psi"}, "typed"),
        ({"tolerance": "9"}, "tolerance"),
        ({"travel_mm": 145}, "travel_mm"),
        ({"source": ValueSource("  ")}, "source_document"),
        ({"source": ValueSource("x" * 161)}, "source_document"),
        ({"source": ValueSource("Manual", "x" * 41)}, "source_revision"),
    ],
)
def test_refuses_what_cannot_be_right_beside_its_field(
    model: SuspensionModel, changed: dict[str, object], field: str
) -> None:
    wanted: dict[str, Any] = {"quantity": "foot_torque_air_leg", "typed": "8 N·m", "source": MANUAL}
    with pytest.raises(ValidationError) as refused:
        enter_value(model=model, entered_by=UserFactory(), **{**wanted, **changed})
    assert set(refused.value.message_dict) == {field}
    assert not SpecValue.objects.exists()


def test_entering_where_there_is_a_value_gives_that_value(value: SpecValue) -> None:
    with pytest.raises(ValueChangedMeanwhile) as refused:
        enter_value(model=value.model, quantity=value.quantity, typed="9 N·m", source=MANUAL, entered_by=UserFactory())
    assert refused.value.current == value


def test_a_change_makes_the_next_version_and_asks_for_a_new_check(value: SpecValue) -> None:
    check_value(value=value, checked_by=_other_person())
    changed = change_value(seen=value, typed="9 N·m", source=MANUAL, entered_by=UserFactory())
    value.refresh_from_db()
    assert (value.is_current, value.is_checked, value.magnitude_si) == (False, True, 8.0)
    assert (changed.number, changed.is_current, changed.is_checked) == (2, True, False)


def test_a_change_of_the_source_alone_is_a_change(value: SpecValue) -> None:
    moved = change_value(
        seen=value, typed="8 N·m", tolerance="5 %", source=ValueSource("Newer manual"), entered_by=UserFactory()
    )
    assert moved.number == 2


def test_a_change_of_nothing_is_refused(value: SpecValue) -> None:
    with pytest.raises(ValidationError, match="Nothing differs"):
        change_value(seen=value, typed="8,0 N·m", tolerance="0.4", source=MANUAL, entered_by=UserFactory())
    assert SpecValue.objects.count() == 1


def test_the_same_again_takes_a_mistaken_check_back(value: SpecValue) -> None:
    check_value(value=value, checked_by=_other_person())
    again = change_value(seen=value, typed="8 N·m", tolerance="5 %", source=MANUAL, entered_by=UserFactory())
    assert not again.is_checked


def test_demo_data_changed_from_another_source_is_demo_no_more() -> None:
    demo = SpecValueFactory(is_demo=True, source_document="Demo data")
    changed = change_value(seen=demo, typed="130 psi", source=MANUAL, entered_by=UserFactory())
    assert not changed.is_demo


def test_a_change_of_an_old_version_is_refused_with_the_current_one(value: SpecValue) -> None:
    newer = change_value(seen=value, typed="9 N·m", source=MANUAL, entered_by=UserFactory())
    with pytest.raises(ValueChangedMeanwhile) as refused:
        change_value(seen=value, typed="7 N·m", source=MANUAL, entered_by=UserFactory())
    assert refused.value.current == newer
    assert SpecValue.objects.get(is_current=True) == newer


def test_a_withdrawn_value_keeps_its_versions_and_can_be_entered_again(value: SpecValue) -> None:
    withdrawn = withdraw_value(seen=value, why="The manual of this year does not give it.", entered_by=UserFactory())
    assert (withdrawn.number, withdrawn.withdrawn, withdrawn.magnitude_si) == (2, True, None)
    again = enter_value(
        model=value.model, quantity=value.quantity, typed="9 N·m", source=MANUAL, entered_by=UserFactory()
    )
    assert again.number == 3
    assert SpecValue.objects.filter(is_current=True).count() == 1


def test_withdrawing_needs_a_reason_and_happens_once(value: SpecValue) -> None:
    with pytest.raises(ValidationError, match="Say why"):
        withdraw_value(seen=value, why=" ", entered_by=UserFactory())
    withdrawn = withdraw_value(seen=value, why="Misread.", entered_by=UserFactory())
    with pytest.raises(ValidationError, match="already"):
        withdraw_value(seen=withdrawn, why="Misread.", entered_by=UserFactory())
    with pytest.raises(ValueChangedMeanwhile):
        withdraw_value(seen=value, why="Misread.", entered_by=UserFactory())


def test_a_second_person_checks(value: SpecValue) -> None:
    person = _other_person()
    checked = check_value(value=value, checked_by=person)
    assert checked.is_checked
    assert checked.checked_by == person


def test_nobody_checks_what_they_entered(value: SpecValue) -> None:
    assert value.entered_by is not None
    with pytest.raises(CheckRefused, match="entered it yourself"):
        check_value(value=value, checked_by=value.entered_by)
    value.refresh_from_db()
    assert not value.is_checked


def test_the_database_itself_refuses_a_check_of_ones_own(value: SpecValue) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        SpecValue.objects.update(checked_by=value.entered_by)


def test_a_check_counts_once_and_only_on_the_current_version(value: SpecValue) -> None:
    first = _other_person()
    check_value(value=value, checked_by=first)
    with pytest.raises(CheckRefused, match="already"):
        check_value(value=value, checked_by=_other_person())
    change_value(seen=value, typed="9 N·m", source=MANUAL, entered_by=UserFactory())
    with pytest.raises(CheckRefused, match="changed meanwhile"):
        check_value(value=value, checked_by=_other_person())
    value.refresh_from_db()
    assert value.checked_by == first


def test_a_withdrawn_version_cannot_be_checked(value: SpecValue) -> None:
    withdrawn = withdraw_value(seen=value, why="Misread.", entered_by=UserFactory())
    with pytest.raises(CheckRefused, match="withdrawn"):
        check_value(value=withdrawn, checked_by=_other_person())


def test_a_first_value_entered_by_two_at_once_is_stored_once(value: SpecValue) -> None:
    """Both looked before either wrote: the second meets the constraint and is told of the first."""
    with patch.object(entering, "_current", side_effect=[None, value]), pytest.raises(ValueChangedMeanwhile) as refused:
        enter_value(model=value.model, quantity=value.quantity, typed="9 N·m", source=MANUAL, entered_by=UserFactory())
    assert refused.value.current == value
    assert SpecValue.objects.filter(is_current=True).get() == value


@pytest.mark.django_db(transaction=True)
def test_of_eight_changes_at_once_one_wins(value: SpecValue) -> None:
    person = UserFactory()
    start = threading.Barrier(8)
    outcomes: list[str] = []

    def change(torque_nm: int) -> None:
        start.wait()
        try:
            change_value(seen=value, typed=f"{torque_nm} N·m", source=MANUAL, entered_by=person)
            outcomes.append("won")
        except ValueChangedMeanwhile:
            outcomes.append("told")
        finally:
            connection.close()

    threads = [threading.Thread(target=change, args=(torque_nm,)) for torque_nm in range(9, 17)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["told"] * 7 + ["won"]
    assert SpecValue.objects.filter(is_current=True).count() == 1
    assert SpecValue.objects.count() == 2
