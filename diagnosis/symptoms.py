"""Which complaints a customer's words sound like. Pure.

Words are folded, everyday ones dropped and endings cut. A word counts for more the fewer complaints use it
(inverse document frequency, Spärck Jones 1972), and a complaint's symptom for the share of it that was said. It is
a suggestion to a person, who decides: order and threshold are common practice, no published source.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

LEAST_SCORE = 0.2  # of a word that only one complaint uses, which weighs 1
NEAR_THE_BEST = 0.5
LEAST_OF_A_PART = 0.3  # of a part of a sentence on its own
BEYOND_THE_SYMPTOM = 0.25  # what a word of the complaint's other symptoms adds
SHORTEST_STEM = 4

_EVERYDAY = (
    "a about after again all always am an and any are as at be been before but by can cannot could did do does even "
    "every feel feels felt for fork front from get gets got had has have he her his i if in is it its just last like "
    "me more my needs never no nobody not nothing now of off on one or our out please quite really rear seems she "
    "shock since so some still than that the their them then there they thing this to too under up use used very was "
    "we well were what when where while will with would you your"
)
_PARTS = re.compile(r"[,;.!?\n]|\b(?:and|but|also|plus|then)\b", re.IGNORECASE)
EVERYDAY = frozenset(_EVERYDAY.split())
ENDINGS = ("ing", "ies", "ied", "ed", "es", "ly", "y", "s", "e")


@dataclass(frozen=True)
class Described:
    """A complaint by its key, and the words customers use for it."""

    key: str
    title: str
    symptoms: Sequence[str]


@dataclass(frozen=True)
class SoundsLike:
    """A complaint that the words may mean; `symptom` is the one that is nearest to them."""

    key: str
    score: float
    symptom: str


def sounds_like(words: str, complaints: Iterable[Described], most: int = 3) -> list[SoundsLike]:
    """The complaints that these words sound like, the likeliest first; empty when they say too little.

    Who names two faults in a sentence has two: each part of it may suggest a complaint that the other parts drown.
    """
    listed = list(complaints)
    told = {entry.key: [stems(text) for text in (*entry.symptoms, entry.title)] for entry in listed}
    used_by = Counter(stem for phrases in told.values() for stem in set().union(*phrases))
    rarest = math.log(1 + len(listed)) or 1.0
    weight = {stem: math.log((1 + len(listed)) / count) / rarest for stem, count in used_by.items()}
    whole = _scored(stems(words), listed, told, weight)
    kept = {one.key: one for one in whole if one.score >= NEAR_THE_BEST * whole[0].score}
    for part in _PARTS.split(words):
        scored = _scored(stems(part), listed, told, weight)
        clear = [one for one in scored if one.score >= max(LEAST_OF_A_PART, NEAR_THE_BEST * scored[0].score)]
        if len(clear) == 1:  # words that fit several complaints are left to the whole sentence
            kept.setdefault(clear[0].key, clear[0])
    return sorted(kept.values(), key=lambda one: -one.score)[:most]


def _scored(
    said: frozenset[str], listed: Sequence[Described], told: dict[str, list[frozenset[str]]], weight: dict[str, float]
) -> list[SoundsLike]:
    """Every complaint that reaches LEAST_SCORE, the likeliest first."""
    found = []
    for entry in listed:
        texts = (*entry.symptoms, entry.title)
        scores = [_score(said, phrase, weight) for phrase in told[entry.key]]
        best = max(range(len(texts)), key=lambda place: scores[place])
        beyond = (said & set().union(*told[entry.key])) - told[entry.key][best]
        score = scores[best] + BEYOND_THE_SYMPTOM * sum(weight[stem] for stem in beyond)
        if score >= LEAST_SCORE:
            found.append(SoundsLike(entry.key, score, texts[best]))
    return sorted(found, key=lambda one: -one.score)


def stems(text: str) -> frozenset[str]:
    """The words that say something, folded and without their endings: “It KNOCKS, when braking” gives knock, brak."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c)).casefold()
    return frozenset(_stem(word) for word in re.findall(r"[^\W_]+", plain) if word not in EVERYDAY and len(word) > 1)


def _stem(word: str) -> str:
    """One ending cut, then a doubled last letter, as long as enough is left to know the word by."""
    for ending in ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= SHORTEST_STEM - 1:
            word = word.removesuffix(ending)
            break
    return word[:-1] if len(word) > SHORTEST_STEM and word[-1] == word[-2] else word


def _score(said: frozenset[str], phrase: frozenset[str], weight: dict[str, float]) -> float:
    """The weight of what was said of a symptom, times the share of the symptom that it is."""
    whole = sum(weight[stem] for stem in phrase)
    told = sum(weight[stem] for stem in said & phrase)
    return told * told / whole if whole else 0.0
