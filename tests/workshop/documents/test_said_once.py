"""What several texts of a report end with is said once, and nothing else is lost."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.documents.said_once import endings_once

LISTED = "What was fitted is in the list of parts."


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        ([], []),
        (["We cleaned it."], ["We cleaned it."]),
        (
            [f"We saw to the dust seals. {LISTED}", "We set it up.", f"We saw to the rings. {LISTED}"],
            ["We saw to the dust seals.", "We set it up.", f"We saw to the rings. {LISTED}"],
        ),
        ([LISTED, f"We did it. {LISTED}"], [LISTED, f"We did it. {LISTED}"]),  # no text is left empty
        (["It took 9.5 ml. It held. ", "It held."], ["It took 9.5 ml. It held.", "It held."]),
    ],
)
def test_each_ending_stands_where_it_is_said_last(texts: list[str], said: list[str]) -> None:
    assert endings_once(texts) == said


_SENTENCES = st.sampled_from(["We did it.", "It held!", LISTED, "Was it dry?"])


@given(st.lists(st.lists(_SENTENCES, min_size=1, max_size=4).map(" ".join), max_size=6))
def test_no_sentence_is_lost_and_every_text_keeps_its_first(texts: list[str]) -> None:
    said = endings_once(texts)
    assert {one for text in texts for one in (LISTED, "We did it.", "It held!", "Was it dry?") if one in text} == {
        one for text in said for one in (LISTED, "We did it.", "It held!", "Was it dry?") if one in text
    }
    assert [text[:5] for text in said] == [text[:5] for text in texts]
