"""The pressure for a wanted sag, put into an answer: the rule itself is `diagnosis.set_up`."""

from __future__ import annotations

from diagnosis.set_up import SetUp
from workshop.sums.answer import NO_SOURCE, Answer, AnswerRow, Writer, share_text


def sag_answer(made: SetUp, *, travel_m: float, max_pressure_pa: float | None, write: Writer) -> Answer:
    """Words of the set-up first, then its numbers and where they come from."""
    rows = []
    if made.pressure_pa is not None:
        note = "cut at the fork’s maximum" if made.capped else "from the spring’s geometry"
        rows.append(AnswerRow("Set in the shop", write(made.pressure_pa, "pressure"), note))
    if made.by_rule_pa is not None:
        note = "cut at the fork’s maximum" if made.rule_capped else NO_SOURCE
        rows.append(AnswerRow("By the rule of thumb", write(made.by_rule_pa, "pressure"), note))
    if made.at_trail_pa is not None:
        rows.append(AnswerRow("Shown on the trail", write(made.at_trail_pa, "pressure"), "same air, other place"))
    rows.append(AnswerRow("Wanted sag", _sag(made.wanted_sag_m, travel_m, write)))
    if made.sag_at_setting_m is not None and made.capped:
        rows.append(AnswerRow("Sag at that pressure", _sag(made.sag_at_setting_m, travel_m, write)))
    if made.load_n is not None:
        share = "" if made.share_of_rider is None else f"{share_text(made.share_of_rider)} of the rider’s weight"
        rows.append(AnswerRow("Load along the fork", f"{made.load_n:.0f} N", share))
    if max_pressure_pa is not None:
        rows.append(AnswerRow("The fork’s maximum", write(max_pressure_pa, "pressure"), "never passed"))
    return Answer(
        words=made.sentences,
        rows=tuple(rows),
        warnings=made.warnings,
        assumed=made.assumed,
        sources=_sources(made),
    )


def _sag(sag_m: float, travel_m: float, write: Writer) -> str:
    return f"{write(sag_m, 'length')}, {share_text(sag_m / travel_m)}"


def _sources(made: SetUp) -> tuple[str, ...]:
    sources = []
    if made.pressure_pa is not None:
        sources.append("Model: balance of the air spring’s three chambers, isothermal ideal gas.")
    if made.by_rule_pa is not None:
        sources.append(f"Rule of thumb: pressure goes inversely with sag; {NO_SOURCE}.")
    if made.at_trail_pa is not None:
        sources.append("Air pressure at a height: ISO 2533.")
    return tuple(sources)
