"""What to set on a torque wrench, what then reaches the bolt, and whether the torque can be meant at all."""

from __future__ import annotations

from specs.physics.errors import ImpossibleValue
from specs.physics.torque import (
    DOUBTFULLY_LOW_SHARE,
    NM_PER_LBF_IN,
    TorqueCheck,
    check_torque,
    tool_deviation,
    torque_at_bolt,
    wrench_setting,
)
from workshop.sums.answer import Answer, AnswerRow, Missing, Writer, share_text

# ISO 6789 states the deviation from this share of a tool's greatest torque upward; from memory.
LOWEST_SHARE_OF_TOOL = 0.2
_TOOL_FROM_MEMORY = (
    "How far off the tool may be: ±6 % up to 10 N·m and ±4 % above, from a fifth of its range up, as ISO 6789-1 "
    "has it. Its certificate goes first."
)


def wrench_sum(
    *,
    torque_nm: float,
    write: Writer,
    wrench_m: float | None = None,
    extension_m: float | None = None,
    angle_deg: float = 0.0,
    tool_max_nm: float | None = None,
    thread: str = "",
    property_class: str = "8.8",
) -> Answer:
    """The setting for a torque at the bolt, the tool's share of doubt, and what a bolt of that size could take.

    Raises `ImpossibleValue` naming the argument: a torque no such bolt takes is refused with what was likely meant.
    """
    check = check_torque(torque_nm, thread, property_class) if thread else None
    if check is not None and check.verdict == "too high":
        raise ImpossibleValue("torque_nm", _too_high(torque_nm, thread, property_class, check, write))
    setting_nm = torque_nm
    if extension_m:
        if wrench_m is None:
            raise Missing("wrench_m", "with an extension the wrench’s own length is needed, grip to drive")
        setting_nm = wrench_setting(torque_nm, wrench_m, extension_m, angle_deg)
    rows = [
        AnswerRow("Set on the wrench", write(setting_nm, "torque")),
        AnswerRow("At the bolt", write(torque_nm, "torque")),
    ]
    warnings: list[str] = []
    if tool_max_nm is not None:
        rows += _tool_rows(torque_nm, setting_nm, tool_max_nm, write)
        if setting_nm < LOWEST_SHARE_OF_TOOL * tool_max_nm:
            from_nm = write(LOWEST_SHARE_OF_TOOL * tool_max_nm, "torque")
            warnings.append(f"The tool’s class holds from {from_nm} upward, a fifth of its range: take a smaller tool.")
    if check is not None:
        takes = f"{write(check.ceiling_nm.low, 'torque')} to {write(check.ceiling_nm.high, 'torque')}"
        rows.append(
            AnswerRow(f"A solid steel {thread}, class {property_class}, takes", takes, "a ceiling, never a target")
        )
        if check.verdict == "very low":
            warnings.append(
                f"That is less than {share_text(DOUBTFULLY_LOW_SHARE)} of what such a bolt takes: "
                "look for a slipped decimal point."
            )
    return Answer(
        words=_words(torque_nm, setting_nm, extension_m, angle_deg, write),
        rows=tuple(rows),
        warnings=tuple(warnings),
        assumed=_assumed(extension_m, check),
        sources=_sources(extension_m, check),
        from_memory=() if tool_max_nm is None else (_TOOL_FROM_MEMORY,),
    )


def _words(
    torque_nm: float, setting_nm: float, extension_m: float | None, angle_deg: float, write: Writer
) -> tuple[str, ...]:
    if not extension_m:
        return (f"Set the wrench to {write(setting_nm, 'torque')}: with no extension there is nothing to correct.",)
    headline = f"Set the wrench to {write(setting_nm, 'torque')} to put {write(torque_nm, 'torque')} on the bolt."
    if abs(angle_deg - 90) < 1e-9:
        return (headline, "At a right angle the extension changes nothing.")
    lever, way = ("longer", "lower") if setting_nm < torque_nm else ("shorter", "higher")
    change = f"{abs(setting_nm / torque_nm - 1) * 100:.1f} %"
    return (headline, f"The extension makes the lever {lever}, so the wrench is set {change} {way} than the bolt gets.")


def _tool_rows(torque_nm: float, setting_nm: float, tool_max_nm: float, write: Writer) -> list[AnswerRow]:
    try:
        band = torque_at_bolt(setting_nm, tool_max_nm)
    except ImpossibleValue as error:
        needed = write(setting_nm, "torque")
        raise ImpossibleValue("tool_max_nm", f"the setting is {needed}, beyond where this tool ends") from error
    lever = torque_nm / setting_nm
    reached = f"{write(band.low * lever, 'torque')} to {write(band.high * lever, 'torque')}"
    return [
        AnswerRow("May reach the bolt", reached, f"tool within its class, ±{share_text(tool_deviation(tool_max_nm))}")
    ]


def _too_high(torque_nm: float, thread: str, property_class: str, check: TorqueCheck, write: Writer) -> str:
    ceiling = check.ceiling_nm
    takes = f"{write(ceiling.low, 'torque')} to {write(ceiling.high, 'torque')}"
    said = f"{write(torque_nm, 'torque')} is more than a solid {thread} bolt of class {property_class} takes, {takes}"
    meant = []
    if torque_nm / 10 <= ceiling.high:
        meant.append(write(torque_nm / 10, "torque"))
    if torque_nm * NM_PER_LBF_IN <= ceiling.high:
        meant.append(f"{torque_nm:g} in·lbf ({write(torque_nm * NM_PER_LBF_IN, 'torque')})")
    return f"{said}. Was {' or '.join(meant)} meant?" if meant else f"{said}. Look at the value and its unit again"


def _assumed(extension_m: float | None, check: TorqueCheck | None) -> tuple[str, ...]:
    assumed = []
    if extension_m:
        assumed.append(
            "Pulled at the middle of the grip, square to the wrench; lengths from there to the drive, and on."
        )
    if check is not None:
        assumed.append(
            "The ceiling is for a solid steel bolt at 75 % of its proof load, nut factor 0.15 to 0.20. Hollow, "
            "light-alloy and damper parts take far less: the maker’s value goes first."
        )
    return tuple(assumed)


def _sources(extension_m: float | None, check: TorqueCheck | None) -> tuple[str, ...]:
    sources = []
    if extension_m:
        sources.append("Extension: setting = torque × L / (L + E cos angle), the law of the lever.")
    if check is not None:
        sources.append("Bolt: ISO 898-1 proof stress and stress area, T = K d F with handbook nut factors.")
    return tuple(sources) or ("No equation was needed.",)
