"""The parts of a unit whose conditions a step can require or leave, and the words for them. Pure.

Which parts a unit has follows from its facts; a fact nobody knows leaves the part in, for unknown counts as dangerous.
What holds air and what must be closed is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from specs.facts import FactValue

AS_IT_CAME, UNKNOWN, SAME, CLOSED = "as_it_came", "unknown", "same", "closed"
EMPTY, CHARGED, LEVEL, LOADED = "empty", "charged", "level", "loaded"
HOLDS_AIR = frozenset({AS_IT_CAME, CHARGED, LEVEL})

_FORK: dict[str, tuple[FactValue, ...]] = {"kind": ("fork",)}
_SHOCK: dict[str, tuple[FactValue, ...]] = {"kind": ("shock",)}
_AIR: dict[str, tuple[FactValue, ...]] = {"spring_kind": ("air",)}


@dataclass(frozen=True)
class UnitPart:
    """One part. `values` are its conditions in words, beside as it came and unknown, which every part can be.

    `closed` are those in which it may leave the bench, `opened` those that only somebody's work brings about.
    `bears` says that air in the spring presses on it. A `finding` is no open part but a fault that was seen, `behind`
    the part that has to be open to mend it. `bolts` are the critical bolts that hold it (diagnosis.layout_plans.BOLTS),
    `torque` says that its bolts have no name of their own and their torque is a reading. `gas` says that it is a charge
    of gas, which is let out in the maker's way and read when it is charged again; on what `bears_gas` it presses.
    """

    key: str
    label: str
    values: Mapping[str, str]
    closed: Collection[str]
    unknown: str
    when: Mapping[str, tuple[FactValue, ...]] = field(default_factory=dict)
    opened: Collection[str] = ()
    bears: bool = False
    finding: bool = False
    chamber: bool = False
    article: str = "the "
    behind: str = ""
    bolts: tuple[str, ...] = ()
    torque: bool = False
    gas: bool = False
    bears_gas: bool = False

    @property
    def tried(self) -> bool:
        """Whether trying it is what makes it good."""
        return "tried" in self.values

    @property
    def named(self) -> str:
        """The part within a sentence, such as “the lowers”."""
        return f"{self.article}{self.label[:1].lower()}{self.label[1:]}"

    def is_closed(self, value: str) -> bool:
        return value in self.closed

    def briefly(self, value: str) -> str:
        """A condition in as few words as a line of them bears, such as “Lowers removed”."""
        said = "not known" if value == UNKNOWN else value.replace("_", " ")
        return f"{self.label}{'' if value != UNKNOWN and self.article else ':'} {said}"

    def in_words(self, value: str) -> str:
        """A condition as a clause, such as “the lowers are off”."""
        if value == UNKNOWN:
            return self.unknown
        if value == AS_IT_CAME and self.tried:
            return f"nobody has tried {self.named} yet"
        if value == AS_IT_CAME:
            return f"nobody has touched {self.named}"
        return self.values[value]


def _part(
    key: str, label: str, values: Mapping[str, str], closed: str, unknown: str,
    when: Mapping[str, tuple[FactValue, ...]], opened: str = "", *, bears: bool = False, behind: str = "",
    bolts: str = "", torque: bool = False, article: str = "the ",
) -> UnitPart:  # fmt: skip
    return UnitPart(
        key, label, values, frozenset({AS_IT_CAME, *closed.split()}), unknown, when, frozenset(opened.split()),
        bears=bears, finding=bool(behind), behind=behind, bolts=tuple(bolts.split()), torque=torque, article=article,
    )  # fmt: skip


def _chamber(key: str, label: str, **loaded: str) -> UnitPart:
    values = {
        EMPTY: f"the {label} is empty",
        CHARGED: f"there is air in the {label}",
        LEVEL: f"there is air in the {label}, level with the other",
        **loaded,
    }
    unknown = f"nobody has made sure whether there is air in the {label}"
    return UnitPart(key, label.capitalize(), values, HOLDS_AIR, unknown, _AIR, frozenset(), chamber=True)


PARTS: Mapping[str, UnitPart] = {
    part.key: part
    for part in (
        _chamber("positive_air", "positive air chamber"),
        _chamber("negative_air", "negative air chamber",
                 loaded="the negative air chamber is loaded, and the other one holds nothing against it"),
        _part("top_cap", "Top cap", {"removed": "the top cap is off", "fitted": "the top cap is on"}, "fitted",
              "it is not known whether the top cap is on", _FORK | _AIR, "removed", bears=True),
        _part("spring", "Air spring", {"out": "the air spring is out", "in": "the air spring is in"}, "in",
              "it is not known whether the air spring is in", _FORK | _AIR, "out", bears=True),
        _part("retention", "What holds the air spring",
              {"open": "what holds the air spring is open", "unproved": "nobody has proved that the air spring is held",
               "proved": "the air spring is held, and that is proved"}, "proved",
              "it is not known whether the air spring is held", _FORK | _AIR, "open", bears=True, article=""),
        _part("preload", "Coil preload",
              {"changed": "the coil’s preload is changed, or its cap or collar is loose",
               "set": "the coil’s preload is set, and its cap or collar is tight"}, "set",
              "it is not known whether the coil’s preload is set and its cap or collar tight",
              {"spring_kind": ("coil",)}, "changed"),
        _part("damper", "Damper", {"out": "the damper is out", "in": "the damper is in"}, "in",
              "it is not known whether the damper is in", _FORK, "out"),
        UnitPart("gas_charge", "Gas charge of the damper",
             {EMPTY: "the damper’s gas is out", CHARGED: "the damper’s gas is charged, and that was read"},
             frozenset({AS_IT_CAME, CHARGED}), "nobody has made sure whether the damper’s gas is out",
             {"gas_charge": (True,)}, frozenset({EMPTY}), gas=True),
        UnitPart("damper_body", "Body of the damper",
             {"open": "the damper is open", "sealed": "the damper is closed"},
             frozenset({AS_IT_CAME, "sealed"}), "it is not known whether the damper is closed",
             {}, frozenset({"open"}), bears_gas=True),
        _part("lowers", "Lowers", {"removed": "the lowers are off", "fitted": "the lowers are on"}, "fitted",
              "it is not known whether the lowers are on", _FORK, "removed", bears=True),
        _part("oil", "Oil in the legs", {"drained": "the oil is out of the legs", "filled": "the legs have their oil"},
              "filled", "it is not known whether the legs have their oil", _FORK, "drained"),
        _part("foot_fasteners", "Foot fasteners",
              {"removed": "the foot fasteners are off", "loose": "a foot fastener is loose or leaks",
               "tight": "the foot fasteners are tight"}, "tight",
              "it is not known whether the foot fasteners are tight", _FORK, "removed", bears=True,
              bolts="foot_air_leg foot_damper_leg"),
        _part("rebound_knob", "Rebound knob",
              {"removed": "the rebound knob is off", "fitted": "the rebound knob is on"}, "fitted",
              "it is not known whether the rebound knob is on", _FORK, "removed"),
        _part("can", "Air can", {"removed": "the air can is off", "fitted": "the air can is on and held"}, "fitted",
              "it is not known whether the air can is on and held", _SHOCK | _AIR, "removed", bears=True),
        _part("shock", "Shock", {"out": "the shock is out of the frame", "in": "the shock is in the frame"}, "in",
              "it is not known whether the shock is in the frame and tight", _SHOCK, "out", torque=True),
        _part("caliper", "Caliper",
              {"removed": "the brake caliper is off", "tight": "the brake caliper is tight"}, "tight",
              "it is not known whether the brake caliper is tight", _FORK, "removed", bolts="caliper"),
        _part("wheel", "Wheel", {"out": "the wheel is out", "in": "the wheel is in"}, "in",
              "it is not known whether the wheel is in", _FORK, "out"),
        _part("axle", "Axle", {"loose": "the axle is not tight", "tight": "the axle is tight"}, "tight",
              "it is not known whether the axle is tight", _FORK, "loose", bolts="axle"),
        _part("stem", "Stem and headset", {"loose": "headset or stem is loose", "tight": "the stem is tight"}, "tight",
              "it is not known whether headset and stem are tight", _FORK, "loose", bolts="stem"),
        _part("crowns", "Clamps of both crowns",
              {"loose": "a clamp of a crown is loose", "tight": "the clamps of both crowns are tight"}, "tight",
              "it is not known whether the clamps of both crowns are tight", _FORK | {"crowns": ("twin",)}, "loose",
              bolts="upper_crown lower_crown steerer_clamp"),
        _part("brakes", "Brakes", {"untried": "nobody has tried the brake since", "tried": "the brake was tried"},
              "tried", "it is not known whether the brake works", {}, "untried"),
        _part("air_seals", "Seals of the air spring",
              {"leaking": "a seal of the air spring leaks or is damaged", "renewed": "the air spring has new seals"},
              "renewed", "it is not known whether the seals of the air spring are sound", _FORK | _AIR,
              behind="spring"),
        _part("can_seals", "Seals of the air can",
              {"leaking": "a seal of the air can leaks or is damaged", "renewed": "the air can has new seals"},
              "renewed", "it is not known whether the seals of the air can are sound", _SHOCK | _AIR, behind="can"),
        _part("damper_seal", "Seal of the damper",
              {"leaking": "the damper loses oil", "renewed": "the damper has new seals"}, "renewed",
              "it is not known whether the damper keeps its oil", _FORK, behind="damper"),
        _part("cap_seal", "Seal of the top cap",
              {"leaking": "the top cap or its valve leaks", "renewed": "the top cap has a new seal"},
              "renewed", "it is not known whether the top cap is tight", _FORK | _AIR, behind="top_cap"),
    )
}  # fmt: skip
CHAMBERS = tuple(key for key, part in PARTS.items() if part.chamber)


def allowed_values(part: str, words: Collection[str]) -> frozenset[str]:
    """What a requirement allows, “closed” standing for every condition in which the part may leave the bench."""
    found: set[str] = set()
    for word in words:
        found |= set(PARTS[part].closed) if word == CLOSED else {word}
    return frozenset(found)


def is_danger(part: str, allowed: Collection[str]) -> bool:
    """Whether it hurts somebody to go against a requirement: that air is out, or that something is closed.

    That there is air, or that something is open, is a matter of sense: without it a step only shows nothing.
    """
    one = PARTS[part]
    pressed = one.chamber or (one.gas and EMPTY in allowed)
    return set(allowed) <= {EMPTY} if pressed else set(allowed) <= set(one.closed)


@dataclass(frozen=True)
class ConditionWords:
    """A condition such as “lowers=removed” in words. Those `of_any_part` name no part and need its name before them."""

    part: UnitPart
    words: str
    of_any_part: bool = False

    @property
    def whole(self) -> str:
        """With its part: “Lowers: the lowers are off”."""
        return f"{self.part.label}: {self.words}"


OF_ANY_PART: Mapping[str, str] = {
    CLOSED: "closed, or as it came in",
    AS_IT_CAME: "as it came in",
    UNKNOWN: "not known any more",
    SAME: "as it was before",
}


def condition_words(condition: str) -> ConditionWords:
    """The words of a condition. Raises KeyError for one that there is not."""
    key, _, value = condition.partition("=")
    part = PARTS[key]
    if value in part.values:
        return ConditionWords(part, part.values[value])
    return ConditionWords(part, OF_ANY_PART[value], of_any_part=True)


def require_words() -> list[tuple[str, str]]:
    """Every condition that a step can require, as (“lowers=removed”, “Lowers: the lowers are off”)."""
    return _in_words(
        f"{part.key}={value}"
        for part in PARTS.values()
        for value in (*(() if part.chamber else (CLOSED,)), AS_IT_CAME, *part.values)
    )


def leave_words() -> list[tuple[str, str]]:
    """Every condition that an answer can leave, as (“lowers=removed”, “Lowers: the lowers are off”)."""
    return _in_words(f"{part.key}={value}" for part in PARTS.values() for value in (*part.values, UNKNOWN, SAME))


def _in_words(conditions: Iterable[str]) -> list[tuple[str, str]]:
    return [(condition, condition_words(condition).whole) for condition in conditions]
