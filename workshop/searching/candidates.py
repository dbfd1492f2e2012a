"""Which records hold what was typed, by the database's own index and in one query.

Three characters in a row (a trigram) are what the index knows. A word of one or two counts only where a word begins:
with the blank before it, two characters make a trigram too. One character alone finds what begins with it.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection

from workshop.searching.sources import CUSTOMER, SOURCES, TICKET, SearchSource

TRIGRAM = 3
_LAST_CHARACTER = "\U0010ffff"
_MOST_DIGITS = 8


@dataclass(frozen=True)
class WantedWords:
    """What is looked for in a record's text: all words of any of the alternatives."""

    alternatives: tuple[tuple[str, ...], ...]

    @classmethod
    def of(cls, *alternatives: Sequence[str]) -> WantedWords:
        """From words as typed; an alternative without a word, or of single characters only, asks for nothing.

        What holds a stricter alternative holds the wider one too, so the stricter is not looked up beside it.
        """
        needles = dict.fromkeys(tuple(dict.fromkeys(map(_needle, words))) for words in alternatives)
        asked = [each for each in needles if any(len(needle) >= TRIGRAM for needle in each)]
        return cls(tuple(each for each in asked if not any(_is_stricter(each, other) for other in asked)))


def _needle(word: str) -> str:
    return word if len(word) >= TRIGRAM else f" {word}"


def _is_stricter(needles: Sequence[str], than: Sequence[str]) -> bool:
    """Whether every text that holds all of `needles` holds all of the others, and not the other way round."""

    def holds(many: Sequence[str], others: Sequence[str]) -> bool:
        return all(any(other in needle for needle in many) for other in others)

    return holds(needles, than) and not holds(than, needles)


@dataclass(frozen=True)
class Lookup:
    """One part of a search: SQL that selects (kind, key), and its values."""

    sql: str
    values: tuple[Any, ...]


def candidates(lookups: Iterable[Lookup | None]) -> dict[str, list[int]]:
    """The keys that all lookups found, by kind and without repeats, in one query."""
    asked = [lookup for lookup in lookups if lookup is not None]
    found: dict[str, list[int]] = {}
    if asked:
        with connection.cursor() as cursor:
            cursor.execute(
                " UNION ALL ".join(f"SELECT * FROM ({lookup.sql}) p{n}" for n, lookup in enumerate(asked)),  # noqa: S608  fixed names; values go apart
                [value for lookup in asked for value in lookup.values],
            )
            for kind, key in cursor.fetchall():
                found.setdefault(kind, []).append(key)
    return {kind: list(dict.fromkeys(keys)) for kind, keys in found.items()}


def holding(source: SearchSource, shop_id: int, wanted: WantedWords, most: int, *, by_text: int = 0) -> Lookup | None:
    """The newest records that hold what is wanted; with `by_text` the first so many of them by their text."""
    if not wanted.alternatives:
        return None
    condition, values = _holds(source, wanted)
    select = (
        f"SELECT '{source.kind}' AS kind, r.{source.key} AS found{f', r.{source.text} AS words' * bool(by_text)} FROM"
    )
    if connection.vendor == "sqlite" and sqlite_has_trigrams():
        # The full-text table leads: it yields keys newest first and stops at the limit, however many there are.
        sql = (
            f"{select} {source.trigrams} f CROSS JOIN {source.table} r ON r.{source.key} = f.rowid {source.owner} "
            f"WHERE f.{source.trigrams} MATCH %s AND {source.shop} = %s AND ({condition}) "
            "ORDER BY f.rowid DESC LIMIT %s"
        )
        found = Lookup(sql, (_match(wanted), shop_id, *values, most))
    else:
        sql = (
            f"{select} {source.table} r {source.owner} WHERE {source.shop} = %s AND ({condition}) "
            f"ORDER BY r.{source.key} DESC LIMIT %s"
        )
        found = Lookup(sql, (shop_id, *values, most))
    if not by_text:
        return found
    in_order = f"SELECT kind, found FROM ({found.sql}) newest ORDER BY words, found LIMIT %s"  # noqa: S608  fixed names; values go apart
    return Lookup(in_order, (*found.values, by_text))


def holding_inside(shop_id: int, states: Sequence[str], wanted: WantedWords, most: int) -> Lookup | None:
    """Tickets in one of the states that hold what is wanted, the newest first. Meant for states that few are in."""
    if not wanted.alternatives:
        return None
    condition, values = _holds(TICKET, wanted)
    inside = (
        f"FROM workshop_ticket o JOIN {TICKET.table} r ON r.ticket_id = o.id "
        f"WHERE o.shop_id = %s AND o.state IN ({', '.join(['%s'] * len(states))})"
    )
    if connection.vendor == "postgresql":  # the OFFSET keeps the words out of it: their index would lead to every year
        inside = f"FROM (SELECT o.id, o.number, r.{TICKET.text} {inside} OFFSET 0) r WHERE ({condition})"
        sql = f"SELECT 'ticket' AS kind, r.id AS found {inside} ORDER BY r.number DESC LIMIT %s"
    else:  # the sign keeps the index of numbers out, which would lead through every ticket there ever was
        sql = f"SELECT 'ticket' AS kind, o.id AS found {inside} AND ({condition}) ORDER BY +o.number DESC LIMIT %s"
    return Lookup(sql, (shop_id, *states, *values, most))


def ending(source: SearchSource, shop_id: int, end: str, most: int) -> Lookup | None:
    """The newest records of which a word ends so: a phone number stands in a record's text as one word of digits.

    From three characters on, and found by the trigrams of the end itself, so that what merely holds it is not read.
    """
    if len(end) < TRIGRAM:
        return None
    condition, values = _word_ends(f"r.{source.text}", end)
    if connection.vendor == "sqlite" and sqlite_has_trigrams():
        trigrams = " AND ".join(map(_quoted, dict.fromkeys(_trigrams([f"{end} "]))))
        sql = (
            f"SELECT '{source.kind}' AS kind, r.{source.key} AS found FROM {source.trigrams} f "  # noqa: S608  fixed names; values go apart
            f"CROSS JOIN {source.table} r ON r.{source.key} = f.rowid {source.owner} "
            f"WHERE f.{source.trigrams} MATCH %s AND {source.shop} = %s AND {condition} ORDER BY f.rowid DESC LIMIT %s"
        )
        return Lookup(sql, (trigrams, shop_id, *values, most))
    sql = (
        f"SELECT '{source.kind}' AS kind, r.{source.key} AS found FROM {source.table} r {source.owner} "  # noqa: S608  fixed names; values go apart
        f"WHERE {source.shop} = %s AND {condition} ORDER BY r.{source.key} DESC LIMIT %s"
    )
    return Lookup(sql, (shop_id, *values, most))


def ending_inside(shop_id: int, states: Sequence[str], end: str, most: int) -> Lookup | None:
    """Tickets in one of the states whose customer's phone ends so, the newest first. Meant as `holding_inside` is."""
    if len(end) < TRIGRAM:
        return None
    condition, values = _word_ends("c.search_text", end)
    inside = (
        f"FROM workshop_ticket o JOIN {CUSTOMER.table} c ON c.id = o.customer_id "
        f"WHERE o.shop_id = %s AND o.state IN ({', '.join(['%s'] * len(states))})"
    )
    if connection.vendor == "postgresql":  # the OFFSET and the sign are there as in `holding_inside`
        inside = f"FROM (SELECT o.id, o.number, c.search_text {inside} OFFSET 0) c WHERE {condition}"
        sql = f"SELECT 'ticket' AS kind, c.id AS found {inside} ORDER BY c.number DESC LIMIT %s"
    else:
        sql = f"SELECT 'ticket' AS kind, o.id AS found {inside} AND {condition} ORDER BY +o.number DESC LIMIT %s"
    return Lookup(sql, (shop_id, *states, *values, most))


def _word_ends(column: str, end: str) -> tuple[str, list[str]]:
    """The condition that a word of a folded text ends so, and its values."""
    if connection.vendor == "postgresql":
        text = f"(' ' || {column})"  # as the index has it: it knows the ends of words
        return f"({text} LIKE %s OR {text} LIKE %s)", [_like(end).removesuffix("%"), _like(f"{end} ")]
    return f"instr({column} || ' ', %s) > 0", [f"{end} "]


def beginning(source: SearchSource, shop_id: int, start: str, most: int) -> Lookup | None:
    """Records whose text begins so, in the order of the text."""
    if not start:
        return None
    shop = f"+{source.shop}" if source.owner else source.shop  # the sign: not from every owner of the shop to its rows
    sql = (
        f"SELECT '{source.kind}' AS kind, r.{source.key} AS found FROM {source.table} r {source.owner} "  # noqa: S608  fixed names; values go apart
        f"WHERE {shop} = %s AND r.{source.text} >= %s AND r.{source.text} < %s ORDER BY r.{source.text} LIMIT %s"
    )
    return Lookup(sql, (shop_id, start, start + _LAST_CHARACTER, most))


def tickets_numbered(shop_id: int, number: int, most: int) -> list[Lookup]:
    """The ticket of that number, and the newest whose numbers begin with those digits."""
    sql = (
        "SELECT 'ticket' AS kind, o.id AS found FROM workshop_ticket o "
        "WHERE o.shop_id = %s AND o.number BETWEEN %s AND %s ORDER BY o.number DESC LIMIT %s"
    )
    further = range(max(_MOST_DIGITS - len(str(number)), 0) + 1) if number else range(1)
    return [Lookup(sql, (shop_id, number * 10**digits, (number + 1) * 10**digits - 1, most)) for digits in further]


@functools.cache
def sqlite_has_trigrams() -> bool:
    """`has_trigrams` of all kinds, looked up once; forgotten when the index is made or removed."""
    return all(has_trigrams(source) for source in SOURCES)


def has_trigrams(source: SearchSource) -> bool:
    """Whether this database has the index; without it a search reads the rows."""
    if connection.vendor == "postgresql":
        query, name = "SELECT 1 FROM pg_indexes WHERE schemaname = current_schema() AND indexname = %s", source.trigrams
    else:
        query, name = "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = %s", source.trigrams
    with connection.cursor() as cursor:
        cursor.execute(query, [name])
        return cursor.fetchone() is not None


def _holds(source: SearchSource, wanted: WantedWords) -> tuple[str, list[str]]:
    """The condition that a row's text holds what is wanted, character for character."""
    text = f"(' ' || r.{source.text})"
    is_postgresql = connection.vendor == "postgresql"
    one = f"{text} LIKE %s" if is_postgresql else f"instr({text}, %s) > 0"
    condition = " OR ".join(f"({' AND '.join([one] * len(needles))})" for needles in wanted.alternatives)
    values = [needle for needles in wanted.alternatives for needle in needles]
    return condition, [_like(needle) for needle in values] if is_postgresql else values


def _like(needle: str) -> str:
    escaped = needle.replace("\\", r"\\").replace("%", r"\%").replace("_", r"\_")
    return f"%{escaped}%"


def _match(wanted: WantedWords) -> str:
    """The trigrams of what is wanted as an FTS5 expression. Each is quoted, so nothing typed is an operator.

    Alternatives are mostly the same characters, spaced otherwise: what most of them have in common is looked up once,
    and the check of each row tells the rest.
    """
    each = [dict.fromkeys(_trigrams(needles)) for needles in wanted.alternatives]
    common = [trigram for trigram in each[0] if all(trigram in others for others in each[1:])]
    if 2 * len(common) > max(map(len, each)):
        each = [dict.fromkeys(common)]
    return " OR ".join(f"({' AND '.join(map(_quoted, trigrams))})" for trigrams in each)


def _trigrams(needles: Iterable[str]) -> list[str]:
    return [needle[at : at + TRIGRAM] for needle in needles for at in range(len(needle) - TRIGRAM + 1)]


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'
