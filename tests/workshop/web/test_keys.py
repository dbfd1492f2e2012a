"""Keys and numbers out of addresses and forms: one reader with one limit, the largest that a database holds."""

from __future__ import annotations

import datetime as dt

import pytest

from workshop.web.converters import LARGEST_KEY, key_from
from workshop.work.sent import MOST_WAITED_S, Unreadable, read_queued


@pytest.mark.parametrize("typed", ["0", "7", "007", str(2**31), str(10**17), str(10**18), str(LARGEST_KEY)])
def test_what_a_database_can_hold_is_read(typed: str) -> None:
    assert key_from(typed) == int(typed)


@pytest.mark.parametrize(
    "typed", [None, "", " 7", "7 ", "-7", "+7", "7.0", "1,440", "٣", "²", "x", str(LARGEST_KEY + 1), "9" * 5000]
)
def test_what_is_no_key_is_none(typed: str | None) -> None:
    assert key_from(typed) is None


@pytest.mark.parametrize("waited", ["99999999999", str(LARGEST_KEY)])
def test_an_answer_that_says_it_waited_for_ages_counts_for_a_fortnight(waited: str) -> None:
    assert read_queued({"waited": waited}).waited == dt.timedelta(seconds=MOST_WAITED_S)


def test_a_wait_larger_than_any_number_is_refused() -> None:
    with pytest.raises(Unreadable):
        read_queued({"waited": "9" * 40})
