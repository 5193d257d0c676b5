"""Members of the kernel with what each of them carries beside: doubts, work, a fault.

The truth of a rehearsal is one member, an estimate thousands; both are advanced here, by the one
kernel, through the spells as they were really begun.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from neckring import lanes
from neckring.lanes import LANES
from neckring.live.fault_modes import charge_left
from neckring.live.hidden_values import Doubts
from neckring.live.suited import Carried, Loop, Suited, suit_capacity
from neckring.outing.batch import Batch, advance, blocks_of, fill, new_schedule, row
from neckring.outing.bodies import NODES
from neckring.outing.doubts import SET_POINT_SHIFT
from neckring.outing.failures import Failure
from neckring.outing.plan import coldest
from neckring.outing.spells import (
    Leg,
    surrounding_rows,
)
from neckring.outing.wearing import (
    circuits,
    control_of,
    dressed,
    garment_rows,
    person_of,
    suit_traits,
    wall_rows,
    wearer_traits,
)

__all__ = ["Carried", "Loop", "Members", "Suited", "elapsed_row"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Rows = dict[str, FloatArray]

# Rows that hold something from step to step; all others are made anew in each. Their least and
# most are what can be: noise must not make ice of nothing.
HELD_STATE = (*NODES, "GARMENT_WATER", "WALL", "LIQUID")
HELD_WHOLE: dict[str, tuple[float, float]] = {
    "CENTRAL_BLOOD": (-math.inf, math.inf),
    "RESERVOIR": (0.0, math.inf),
    "RESERVOIR_WATER": (0.02, math.inf),
    "ICE": (0.0, math.inf),
    "CHARGE": (0.0, 1.0),
    "HELMET_WATER": (0.0, math.inf),
    "HELMET_CO2": (0.0, math.inf),
    "HELMET_O2": (0.0, math.inf),
    "HELMET_TEMPERATURE": (-math.inf, math.inf),
    "SUIT_WATER": (0.0, math.inf),
    "SUIT_CO2": (0.0, math.inf),
    "SUIT_O2": (0.0, math.inf),
    "SUIT_TEMPERATURE": (-math.inf, math.inf),
    "SWEATED": (0.0, math.inf),
    "DIFFUSED": (-math.inf, math.inf),
    "BREATHED_WATER": (-math.inf, math.inf),
    "CORE_BASELINE": (-math.inf, math.inf),
    "STORAGE_BASELINE": (-math.inf, math.inf),
    "MEAN_SKIN": (-math.inf, math.inf),
    # What follows from these in a step, and is read before the next one.
    "HEART_RATE": (0.0, math.inf),
    "INLET_WATER": (-math.inf, math.inf),
    "RETURN_WATER": (-math.inf, math.inf),
    "WATER_FLOW": (0.0, math.inf),
    "INSPIRED_CO2": (0.0, math.inf),
    "INSPIRED_O2": (0.0, math.inf),
    "INSPIRED_WATER_PRESSURE": (0.0, math.inf),
    "VOLTAGE": (0.0, math.inf),
}
STATE_ROWS: IntArray = np.array([getattr(lanes, name) // LANES for name in HELD_STATE])
STATE_LEAST = np.array([0.0 if name == "LIQUID" else -math.inf for name in HELD_STATE])
WHOLE_ROWS: IntArray = np.array([getattr(lanes, name) // LANES for name in HELD_WHOLE])
WHOLE_LEAST = np.array([least for least, _ in HELD_WHOLE.values()])
WHOLE_MOST = np.array([most for _, most in HELD_WHOLE.values()])


class Members:
    """Members with their states.

    Attributes:
        suited: Their bodies and suits.
        carried: What each carries.
        batch: Their states; `ELAPSED` is the run time [s].
    """

    def __init__(self, doubts: Doubts, loop: Loop, carried: Carried, begun: float) -> None:
        self.carried = carried
        self.suited = Suited(doubts, loop, carried.scores)
        scenario = self.suited.scenario
        self.batch = dressed(scenario, self.suited.pressure, coldest(self.suited.ready))
        elapsed_row(self.batch, begun)
        self._set_point = scenario.of(SET_POINT_SHIFT)
        self._put_battery()

    @property
    def count(self) -> int:
        """How many."""
        return self.batch.members

    def read(self, name: str) -> FloatArray:
        """One row of the whole body, shape (members,)."""
        return row(self.batch.whole, name, self.count)

    def renew(self) -> None:
        """Make bodies and suits anew where scores have been moved; what they hold stays."""
        self.suited = Suited(self.suited.doubts, self.suited.loop, self.carried.scores)
        scenario, count = self.suited.scenario, self.count
        person = person_of(scenario)
        control = control_of(scenario, person)
        garment = garment_rows(scenario, circuits(scenario)[2])
        fill(self.batch.body, wall_rows(scenario) | garment, count)
        traits = wearer_traits(scenario, person)
        traits |= suit_traits(scenario, self.suited.pressure, coldest(self.suited.ready))
        traits |= {"SWEAT_GAIN": control.sweat_gain, "CARDIAC_LIMIT": control.cardiac_limit}
        fill(self.batch.traits, traits, count)
        self._put_set_points(scenario.of(SET_POINT_SHIFT))
        self._put_battery()

    def _put_set_points(self, shift: FloatArray) -> None:
        """Set points of another resting temperature."""
        more = shift - self._set_point
        self._set_point = shift
        count, body = self.count, self.batch.body
        for name in ("SET_CORE", "SET_SKIN"):
            fill(body, {name: row(body, name, count) + more}, count)

    def vector(self, chosen: IntArray) -> FloatArray:
        """All that chosen members hold and carry as one row each, (chosen, numbers)."""
        block, lane = chosen // LANES, chosen % LANES
        held = _lane_view(self.batch.state)[block, :, :, lane][:, :17][..., STATE_ROWS]
        whole = _lane_view(self.batch.whole)[block, :, lane][:, WHOLE_ROWS]
        carried = self.carried
        parts = (held.reshape(len(chosen), -1), whole, carried.work[chosen, None])
        return np.concatenate([*parts, carried.scores[chosen]], axis=1)

    def put_vector(self, chosen: IntArray, vector: FloatArray) -> None:
        """Write rows as `vector` gives them, nothing below what can be."""
        block, lane = (chosen // LANES)[:, None], (chosen % LANES)[:, None]
        held = 17 * len(STATE_ROWS)
        after = held + len(WHOLE_ROWS)
        state = np.maximum(vector[:, :held].reshape(len(chosen), 17, -1), STATE_LEAST)
        view = _lane_view(self.batch.state)
        for segment in range(17):
            view[block, segment, STATE_ROWS[None], lane] = state[:, segment]
        whole = np.clip(vector[:, held:after], WHOLE_LEAST, WHOLE_MOST)
        _lane_view(self.batch.whole)[block, WHOLE_ROWS[None], lane] = whole
        self.carried.work[chosen] = vector[:, after]
        moved = self.suited.doubts.moved
        scores = self.carried.scores
        scores[chosen] = np.where(moved, vector[:, after + 1 :], scores[chosen])

    def _put_battery(self) -> None:
        carried, name = self.carried, "BATTERY_CAPACITY"
        left = self.suited.own["battery_factor"] * charge_left(carried.mode, carried.severity)
        self.capacity = suit_capacity(self.suited)
        fill(self.batch.traits, {name: self.capacity * left}, self.count)

    def go_on(
        self,
        leg: Leg,
        seconds: float,
        step: float,
        workers: int = 1,
        broken: Mapping[str, Failure] | None = None,
    ) -> None:
        """Advance all members through a part of one leg.

        Args:
            leg: What is being done, made ready for these members.
            seconds: How long.
            step: Longest step [s].
            workers: Threads; the answer does not depend on them.
            broken: Failures that are there, by code.
        """
        rows = self.suited.rows(leg)
        for failure in (broken or {}).values():
            rows |= failure.change(self.suited.scenario, leg.spell, rows)
        changed = self.suited.under(leg, rows, self.carried, self.read("RESERVOIR"))
        steps = max(1, math.ceil(seconds / step - 1e-9))
        changed["STEP"] = np.full(self.count, seconds / steps)
        around = surrounding_rows(self.suited.scenario, leg, self.suited.pressure)
        plan = new_schedule(
            self.count,
            {name: np.asarray(values)[None] for name, values in changed.items()},
            {name: np.asarray(values)[None] for name, values in around.items()},
            np.array([steps]),
        )
        advance(self.batch, plan, workers=workers)

    def move(self, where: IntArray, source: IntArray) -> None:
        """Put copies of some members in the place of others, with all they carry."""
        for array in (self.batch.state, self.batch.body, self.batch.whole, self.batch.traits):
            view = _lane_view(array)
            view[where // LANES, ..., where % LANES] = view[source // LANES, ..., source % LANES]
        carried = self.carried
        own = (carried.scores, carried.work, carried.mode, carried.severity)
        for values in (*own, self._set_point):
            values[where] = values[source]

    def some(self, chosen: IntArray) -> Batch:
        """The states of chosen members as a batch of their own."""
        short = blocks_of(len(chosen)) * LANES - len(chosen)
        padded = np.concatenate([chosen, np.repeat(chosen[-1:], short)])

        def picked(array: FloatArray) -> FloatArray:
            view = _lane_view(array)[padded // LANES, ..., padded % LANES]
            blocks = view.reshape(-1, LANES, *view.shape[1:])
            flat = np.ascontiguousarray(np.moveaxis(blocks, 1, -1))
            return flat.reshape(*flat.shape[:-2], -1)

        batch = self.batch
        return Batch(
            len(chosen),
            picked(batch.state),
            picked(batch.body),
            picked(batch.whole),
            picked(batch.traits),
            batch.upstream,
            batch.order,
        )


def _lane_view(array: FloatArray) -> FloatArray:
    """A kernel array (blocks, ..., rows x LANES) as (blocks, ..., rows, LANES)."""
    return array.reshape(*array.shape[:-1], -1, LANES)


def elapsed_row(batch: Batch, time: float) -> None:
    """Set the clock of all members [s]."""
    batch.whole[:, lanes.ELAPSED : lanes.ELAPSED + LANES] = time
