"""Reading a number as a person types it. Pure; every typed quantity, amount of money and count is read here.

The convention, in this one place. The app writes a point before decimals and a comma between thousands ("1,440"), and
whatever it writes reads back as the same number. Besides, what people type elsewhere is read where it can mean only
one thing:

- "12,50", "12.5", "0,125", "1440,125": one sign that does not stand before exactly three figures of a number that
  could be grouped there is a decimal sign.
- "1.440,5", "1,440.5", "1.440.000", "1 200,50", "1'200": with two kinds of sign, or one kind twice, the groups are
  plain. Groups have three figures; anything else is refused.
- "1,500" is 1500, as the app itself writes it. Where values have three decimals or more (`decimals`), as inches and
  prices of a millilitre have, the app writes no such groups and it could be 1.5 too: then it is asked.
- "1.500" could be 1.5, or 1500 as it is written in half of Europe: it is asked, except where values have three
  decimals or more, since the app writes "1.125 in".

- Where an answer of the app with any number of decimals may be typed in again, and nothing is kept of it (the sums), it
  is read `as_written` by the app: a point is a decimal sign and a comma parts thousands.

No exponents, no fractions, no figures of other scripts.
"""

from __future__ import annotations

import re
from decimal import Decimal

LONGEST = 40
NO_NUMBER = "no_number"
TWO_READINGS = "two_readings"

_BLANKS = "\u00a0\u2007\u2009\u202f"
_SAME = str.maketrans({**dict.fromkeys(_BLANKS, " "), "−": "-", "’": "'"})
_SPLIT = re.compile(r"\s*([+\-]?\s*[0-9.,][0-9.,' ]*)(.*)", re.DOTALL)
_ONE_SIGN = re.compile(r"([0-9]*)([.,])([0-9]*)")
_GROUPED = {
    sign: re.compile(rf"[0-9]{{1,3}}(?:{re.escape(sign)}[0-9]{{3}})+") for sign in (",", ".", " ", "'")
}  # fmt: skip


class NumberRefused(ValueError):
    """What was typed is no number, or could be two; the message says what to enter. `code` is one of the above."""

    def __init__(self, message: str, code: str) -> None:
        super().__init__(message)
        self.code = code


def split_number(typed: str) -> tuple[str, str]:
    """A typed value as its number and what stands behind: "8,0 N·m" gives ("8,0", "N·m"); no number gives ""."""
    match = _SPLIT.fullmatch(typed.strip().translate(_SAME))
    return (match[1].strip(), match[2].strip()) if match else ("", typed.strip())


def read_number(typed: str, *, decimals: int = 2, as_written: bool = False) -> Decimal:
    """Read a number without a unit.

    Args:
        typed: what was typed.
        decimals: how many decimals the values of the field have; it settles only what could be read in two ways.
        as_written: settle that by how the app writes numbers, whatever the field has.

    Raises:
        NumberRefused: no number, or one that could be read in two ways; both are named.
    """
    text = typed.strip().translate(_SAME)
    sign, bare = ("-", text[1:].strip()) if text[:1] == "-" else ("", text.removeprefix("+").strip())
    if len(typed) > LONGEST or not re.fullmatch(r"[0-9.,' ]*[0-9][0-9.,' ]*", bare):
        raise _no_number(typed)
    plain = _plain(bare, decimals, as_written)
    if plain is None:
        raise _no_number(typed)
    if len(plain) == 2:
        one, other = (f"{sign}{reading}" for reading in plain)
        raise NumberRefused(f"“{typed.strip()}” could be {one} or {other}. Enter {one} or {other}.", TWO_READINGS)
    return Decimal(sign + plain[0])


def _plain(bare: str, decimals: int, as_written: bool) -> tuple[str, ...] | None:
    """The readings of a number without its sign, with a point and no groups; None where it has none."""
    if bare.isdigit():
        return (bare,)
    for group in " '":
        if group in bare:
            whole, mark, rest = _cut_at_decimal_sign(bare)
            fits = _GROUPED[group].fullmatch(whole) and (rest.isdigit() or not mark)
            return (whole.replace(group, "") + (f".{rest}" if mark else ""),) if fits else None
    commas, points = bare.count(","), bare.count(".")
    if commas and points:
        whole, _, rest = _cut_at_decimal_sign(bare)
        group = "," if bare.rfind(".") > bare.rfind(",") else "."
        fits = _GROUPED[group].fullmatch(whole) and rest.isdigit()
        return (f"{whole.replace(group, '')}.{rest}",) if fits else None
    if commas + points > 1:
        group = "," if commas else "."
        return (bare.replace(group, ""),) if _GROUPED[group].fullmatch(bare) else None
    match = _ONE_SIGN.fullmatch(bare)
    if match is None:
        return None
    whole, mark, rest = match.groups()
    as_decimal, as_group = f"{whole or '0'}.{rest or '0'}", f"{whole}{rest}"
    if not _GROUPED[mark].fullmatch(bare) or whole.startswith("0"):
        return (as_decimal,)
    if as_written or (mark == "." and decimals >= 3) or (mark == "," and decimals < 3):
        return (as_decimal,) if mark == "." else (as_group,)
    return _unmistakable(as_decimal), as_group


def _cut_at_decimal_sign(bare: str) -> tuple[str, str, str]:
    """What stands before the last point or comma, that sign, and what stands behind it."""
    place = max(bare.rfind("."), bare.rfind(","))
    return (bare, "", "") if place < 0 else (bare[:place], bare[place], bare[place + 1 :])


def _unmistakable(decimal: str) -> str:
    """1.500 as 1.5, and 1.125 as 1.1250: written so, no field reads it in another way."""
    short = decimal.rstrip("0").rstrip(".")
    return f"{short}0" if len(short.partition(".")[2]) == 3 else short


def _no_number(typed: str) -> NumberRefused:
    shown = typed.strip()
    shown = f"{shown[:20]}…" if len(shown) > 20 else shown
    said = f"“{shown}” is no number. Enter for example 4 or 2.5." if shown else "Enter a number."
    return NumberRefused(said, NO_NUMBER)
