"""Every rest depth that was read in a job, in the order of its ticks, with what hung on the fork and the air it had."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from diagnosis.declared import (
    ARRIVAL_PRESSURE,
    AT_MAXIMUM,
    CALIPER_MASS,
    HEAD_ANGLE,
    LOWERS_MASS,
    PRESSURE_SET,
    REST_DEPTH,
    REST_PRESSURE,
    REST_PULLED,
    REST_PUSHED,
    WHEEL_MASS,
    measured_by_key,
)
from diagnosis.hanging import Mounted
from diagnosis.models import Step, Tick
from diagnosis.runs_state import RunState, StepState
from diagnosis.unit_parts import CHAMBERS
from diagnosis.unit_state import LEFT_OUT, TAKEN_BACK, UnitState, effects

_WEIGHED = (WHEEL_MASS, LOWERS_MASS, CALIPER_MASS, HEAD_ANGLE)


@dataclass(frozen=True)
class Rest:
    """One rest depth, m. `pump_pa` was read with it, `pushed_m` and `pulled_m` tell its friction; None if not read.

    `tick` numbers it in the job, 0 where its answer was taken back. `air` is the number of the last tick before it that
    let air in or out, 0 for none.
    """

    travel_m: float
    title: str
    tick: int
    mounted: Mounted
    air: int = 0
    pump_pa: float | None = None
    pushed_m: float | None = None
    pulled_m: float | None = None
    is_proved: bool = False


@dataclass(frozen=True)
class RestsRead:
    """The rests of a job. `arrival` is the first in the handbook's order, `later` those after it, oldest first.

    `weighed` holds by measure what hangs, in SI. `arrival_pa` is the pump reading as it came in, `set_pa` the pressure
    that was set last and the number of its tick.
    """

    arrival: Rest | None = None
    later: tuple[Rest, ...] = ()
    arrival_pa: float | None = None
    arrival_pa_tick: int = 0
    set_pa: float | None = None
    set_pa_tick: int = 0
    weighed: Mapping[str, float] = field(default_factory=dict)

    @property
    def newest(self) -> Rest | None:
        return self.later[-1] if self.later else self.arrival


def rests_read(states: Sequence[RunState], *, on_a_bike: bool) -> RestsRead:
    """From the runs of one job; asks the database nothing."""
    history = _History.of(states, on_a_bike)
    rests: dict[tuple[str, int], Rest] = {}
    weighed: dict[str, float] = {}
    arrival_pa = set_pa = None
    arrival_tick = set_tick = 0
    for state in states:
        for step_state in state.steps:
            read = _magnitudes(step_state)
            if not read:
                continue
            number = _number(step_state)
            weighed |= {measure: read[measure] for measure in _WEIGHED if measure in read}
            if ARRIVAL_PRESSURE in read and arrival_pa is None:
                arrival_pa, arrival_tick = read[ARRIVAL_PRESSURE], number
            if PRESSURE_SET in read and number >= set_tick and number:
                set_pa, set_tick = read[PRESSURE_SET], number
            if REST_DEPTH in read and (number or not rests):
                rests.setdefault((step_state.key, number), history.rest(step_state, read, number))
    if not rests:
        return RestsRead(arrival_pa=arrival_pa, weighed=weighed)
    arrival, *others = rests.values()
    later = sorted((rest for rest in others if rest.tick), key=lambda rest: rest.tick)
    return RestsRead(arrival, tuple(later), arrival_pa, arrival_tick, set_pa, set_tick, weighed)


def _magnitudes(state: StepState) -> dict[str, float]:
    """What was read at a step, by what it is of."""
    if not state.readings:
        return {}
    measures = measured_by_key(state.step.readings)
    return {
        measures[key]: reading.magnitude_si
        for key, reading in state.readings.items()
        if key in measures and reading.magnitude_si is not None
    }


def _number(state: StepState) -> int:
    """The tick that a step's readings belong to, wherever in the job it was made; 0 where none stands."""
    tick = state.tick or state.lapsed
    return 0 if tick is None else tick.counted_from_id or tick.pk


@dataclass(frozen=True)
class _History:
    """What was mounted before each tick of a job, and which ticks let air in or out."""

    before: Mapping[int, Mapping[str, str]]
    air: Sequence[int]
    on_a_bike: bool

    @classmethod
    def of(cls, states: Sequence[RunState], on_a_bike: bool) -> _History:
        ticks: dict[int, Tick] = {}
        for state in states:
            ticks |= {tick.pk: tick for tick in state.run.ticks.all() if tick.counted_from_id is None}
            ticks |= {tick.counted_from.pk: tick.counted_from for tick in state.run.ticks.all() if tick.counted_from}
        unit = UnitState.as_it_came(states[0].run.facts) if states else UnitState({})
        before, air = {}, []
        for number in sorted(ticks):
            tick = ticks[number]
            before[number] = unit.conditions
            unit = unit.after(tick.step, tick.outcome)
            if _changes_air(tick.step, tick.outcome):
                air.append(number)
        return cls(before, air, on_a_bike)

    def rest(self, state: StepState, read: Mapping[str, float], number: int) -> Rest:
        conditions = self.before.get(number, {})
        return Rest(
            travel_m=read[REST_DEPTH],
            title=state.step.title,
            tick=number,
            mounted=mounted_now(conditions, on_a_bike=self.on_a_bike),
            air=max((at for at in self.air if at <= number), default=0),
            pump_pa=read.get(REST_PRESSURE),
            pushed_m=read.get(REST_PUSHED),
            pulled_m=read.get(REST_PULLED),
            is_proved=state.tick is not None and state.outcome == Tick.Outcome.PROVED,
        )


def mounted_now(conditions: Mapping[str, str], *, on_a_bike: bool) -> Mounted:
    """What hangs on a unit in these conditions; what nobody knows counts as it came, mounted."""
    return Mounted(
        wheel=conditions.get("wheel") != "out",
        lowers=conditions.get("lowers") != "removed",
        caliper=conditions.get("caliper") != "removed",
        on_a_bike=on_a_bike,
    )


def _changes_air(step: Step, outcome: str) -> bool:
    """Whether a tick says that air went in or out: by what it leaves, or because it pumps to the maximum."""
    if outcome in (LEFT_OUT, TAKEN_BACK):
        return False
    return step.frees_port == AT_MAXIMUM or any(part in CHAMBERS for part in effects(step, outcome))
