"""The hand-made elimination against a dense solve of the same nodes, written from the graph.

The graph is the published one (Takahashi et al. 2021): central blood; in each of 17 segments
artery, vein, core and skin; in limbs a superficial vein; in head and pelvis muscle and fat: 85
nodes. Ours adds a garment-water and a wall node on each skin, and the reservoir. The matrix here
is built link by link and knows nothing of how the kernel solves it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from neckring import lanes
from neckring.body.circulation import eliminate_inward, substitute_outward
from neckring.constants import ICE_LATENT_HEAT, WATER_SPECIFIC_HEAT
from neckring.lanes import HEART, LANES
from neckring.suit.cooling import heart_and_reservoir

FloatArray = NDArray[np.float64]

# The vascular tree by the trade's names: who gets blood from whom.
UPSTREAM = {
    "head": "neck",
    "neck": "heart",
    "chest": "heart",
    "back": "heart",
    "pelvis": "heart",
    **{f"{s}_upper_arm": "heart" for s in ("left", "right")},
    **{f"{s}_forearm": f"{s}_upper_arm" for s in ("left", "right")},
    **{f"{s}_hand": f"{s}_forearm" for s in ("left", "right")},
    **{f"{s}_thigh": "pelvis" for s in ("left", "right")},
    **{f"{s}_lower_leg": f"{s}_thigh" for s in ("left", "right")},
    **{f"{s}_foot": f"{s}_lower_leg" for s in ("left", "right")},
}
NAMES = lanes.SEGMENT_NAMES
LIMB = tuple("arm" in n or "hand" in n or "leg" in n or "thigh" in n or "foot" in n for n in NAMES)
LAYERED = tuple(n in ("head", "pelvis") for n in NAMES)


class System:
    """One random member: kernel arrays, and how to read a coefficient."""

    def __init__(self, seed: int, pack: bool) -> None:
        random = np.random.default_rng(seed)
        positive: Callable[..., FloatArray] = lambda *n: random.uniform(0.1, 10.0, n)  # noqa: E731
        self.state = random.uniform(10.0, 40.0, (HEART + 1, lanes.STATE_SIZE))
        self.body = positive(17, lanes.BODY_SIZE)
        self.around = positive(17, lanes.AROUND_SIZE)
        self.whole = positive(lanes.WHOLE_SIZE)
        self.traits = positive(lanes.TRAITS_SIZE)
        self.spell = positive(lanes.SPELL_SIZE)
        self._only(self.body, LIMB, "SUPERFICIAL_CAPACITY", "SUPERFICIAL_SKIN_CONDUCTANCE")
        layers = ("MUSCLE_CAPACITY", "FAT_CAPACITY", "CORE_MUSCLE", "MUSCLE_FAT")
        self._only(self.body, LAYERED, *layers, "FAT_SKIN_CONDUCTANCE")
        self._only(self.state[:17], LAYERED, "FLOW_MUSCLE", "FLOW_FAT")
        flows = ("FLOW_CORE", "FLOW_MUSCLE", "FLOW_FAT", "FLOW_SKIN")
        total = sum(self._rows(self.state[:17], name) for name in flows)
        self._rows(self.state[:17], "FLOW_OWN")[:] = total
        self._rows(self.spell, "WATER_FROM_PACK")[:] = float(pack)
        self._rows(self.spell, "STEP")[:] = 10.0
        self._rows(self.whole, "MELTED")[:] = 1e-3
        self.before = self.state.copy()
        self.whole_before = self.whole.copy()

    @staticmethod
    def _rows(array: FloatArray, name: str) -> FloatArray:
        place = getattr(lanes, name)
        return array[..., place : place + LANES]

    def _only(self, array: FloatArray, where: tuple[bool, ...], *names: str) -> None:
        for name in names:
            self._rows(array, name)[~np.array(where)] = 0.0

    def solve(self) -> None:
        """What the kernel does."""
        eliminate_inward(self.state, self.body, self.around, self.whole, self.spell, LANES)
        heart_and_reservoir(self.state, self.whole, self.traits, self.spell, LANES)
        substitute_outward(self.state, self.whole, LANES)

    def nodes(self) -> dict[tuple[str, str], FloatArray]:
        """Temperatures after `solve`, each node for all lanes."""
        kinds = ["artery", "vein", "core", "skin", "garment_water", "wall"]
        found = {}
        for i, name in enumerate(NAMES):
            own = kinds + ["superficial_vein"] * LIMB[i] + ["muscle", "fat"] * LAYERED[i]
            for kind in own:
                found[name, kind] = self._rows(self.state[i], kind.upper())
        found["heart", "blood"] = self._rows(self.whole, "CENTRAL_BLOOD")
        found["pack", "reservoir"] = self._rows(self.whole, "RESERVOIR")
        return found


class Dense:
    """The same member as links between nodes, for one lane."""

    def __init__(self, system: System, lane: int) -> None:
        self.places = {node: i for i, node in enumerate(system.nodes())}
        self.matrix = np.zeros((len(self.places), len(self.places)))
        self.right = np.zeros(len(self.places))
        self.lane, self.system = lane, system
        self._assemble()

    def of(self, array: FloatArray, name: str) -> float:
        return float(System._rows(array, name)[self.lane])

    def store(self, node: tuple[str, str], capacity: float, before: float) -> None:
        """Heat capacity over the step."""
        here, rate = self.places[node], capacity / 10.0
        self.matrix[here, here] += rate
        self.right[here] += rate * before

    def carry(self, into: tuple[str, str], out_of: tuple[str, str], flow: float) -> None:
        """A stream enters a node at another's temperature and leaves at its own."""
        here = self.places[into]
        self.matrix[here, here] += flow
        self.matrix[here, self.places[out_of]] -= flow

    def join(self, one: tuple[str, str], other: tuple[str, str], conductance: float) -> None:
        """Heat flows both ways by conduction."""
        self.carry(one, other, conductance)
        self.carry(other, one, conductance)

    def _assemble(self) -> None:
        s = self.system
        self.inlet = ("pack", "reservoir")
        self.pack = self.of(s.spell, "WATER_FROM_PACK") > 0.5
        through = self._streams()
        for i, name in enumerate(NAMES):
            self._tissue(i, name)
            self._blood(name, *through[name])
            self._water_and_wall(i, name)
        self.store(
            ("heart", "blood"),
            self.of(s.traits, "CENTRAL_CAPACITY"),
            self.of(s.whole_before, "CENTRAL_BLOOD"),
        )
        self._reservoir()

    def _shunt(self, name: str) -> float:
        hand = "arm" in name or "hand" in name
        return self.of(self.system.whole, "HAND_SHUNT" if hand else "FOOT_SHUNT")

    def _streams(self) -> dict[str, tuple[float, float]]:
        """Blood through each artery and each deep vein, from the leaves to the heart."""
        arterial = dict.fromkeys(NAMES, 0.0)
        venous = dict.fromkeys(NAMES, 0.0)
        for i, name in enumerate(NAMES):
            flow = self.of(self.system.before[i], "FLOW_OWN")
            at, opened = name, "hand" in name or "foot" in name
            shunt = self._shunt(name) if opened else 0.0
            while at != "heart":
                arterial[at] += flow + shunt
                # Shunted blood goes home by superficial veins; the thigh's ends in the pelvis.
                venous[at] += flow + (shunt if at == "pelvis" else 0.0)
                at = UPSTREAM[at]
        return {name: (arterial[name], venous[name]) for name in NAMES}

    def _tissue(self, i: int, name: str) -> None:
        s, body = self.system, self.system.body[i]
        core, skin = (name, "core"), (name, "skin")
        self.store(core, self.of(body, "CORE_CAPACITY"), self.of(s.before[i], "CORE"))
        self.store(skin, self.of(body, "SKIN_CAPACITY"), self.of(s.before[i], "SKIN"))
        self.join(core, skin, self.of(body, "CORE_SKIN_CONDUCTANCE"))
        self.right[self.places[core]] += self.of(s.before[i], "HEAT_CORE")
        if name == "chest":
            breath = self.of(s.whole, "RESPIRED_HEAT_DRY") + self.of(s.whole, "RESPIRED_HEAT_WET")
            self.right[self.places[core]] -= breath
        heat = self.of(s.before[i], "HEAT_SKIN") - self.of(s.before[i], "EVAPORATION")
        self.right[self.places[skin]] += heat + self.of(s.before[i], "TO_SKIN")
        direct = self.of(s.around[i], "DIRECT_CONDUCTANCE")
        self.matrix[self.places[skin], self.places[skin]] += direct
        self.right[self.places[skin]] += direct * self.of(s.around[i], "DIRECT_TEMPERATURE")
        for layer in ("MUSCLE", "FAT") if LAYERED[i] else ():
            node = (name, layer.lower())
            self.store(node, self.of(body, f"{layer}_CAPACITY"), self.of(s.before[i], layer))
            self.right[self.places[node]] += self.of(s.before[i], f"HEAT_{layer}")
        if LAYERED[i]:
            self.join(core, (name, "muscle"), self.of(body, "CORE_MUSCLE"))
            self.join((name, "muscle"), (name, "fat"), self.of(body, "MUSCLE_FAT"))
            self.join((name, "fat"), skin, self.of(body, "FAT_SKIN_CONDUCTANCE"))

    def _blood(self, name: str, arterial: float, venous: float) -> None:
        i = NAMES.index(name)
        s, body = self.system, self.system.body[i]
        artery, vein, above = (name, "artery"), (name, "vein"), UPSTREAM[name]
        heart = ("heart", "blood")
        self.store(artery, self.of(body, "ARTERY_CAPACITY"), self.of(s.before[i], "ARTERY"))
        self.store(vein, self.of(body, "VEIN_CAPACITY"), self.of(s.before[i], "VEIN"))
        self.carry(artery, heart if above == "heart" else (above, "artery"), arterial)
        self.carry(heart if above == "heart" else (above, "vein"), vein, venous)
        self.join(artery, vein, self.of(body, "ARTERY_VEIN"))
        self.join((name, "core"), artery, self.of(body, "VESSEL_CORE"))
        self.join((name, "core"), vein, self.of(body, "VESSEL_CORE"))
        for tissue in ("core", "skin", *(("muscle", "fat") if LAYERED[i] else ())):
            flow = self.of(s.before[i], f"FLOW_{tissue.upper()}")
            self.carry((name, tissue), artery, flow)
            self.carry(vein, (name, tissue), flow)
        if LIMB[i]:
            self._superficial(i, name, above)

    def _superficial(self, i: int, name: str, above: str) -> None:
        s, body, shunt = self.system, self.system.body[i], self._shunt(name)
        vein = (name, "superficial_vein")
        before = self.of(s.before[i], "SUPERFICIAL_VEIN")
        self.store(vein, self.of(body, "SUPERFICIAL_CAPACITY"), before)
        self.join(vein, (name, "skin"), self.of(body, "SUPERFICIAL_SKIN_CONDUCTANCE"))
        if "hand" in name or "foot" in name:
            self.carry(vein, (name, "artery"), shunt)
        ends = {"heart": ("heart", "blood"), "pelvis": ("pelvis", "vein")}
        self.carry(ends.get(above, (above, "superficial_vein")), vein, shunt)

    def _water_and_wall(self, i: int, name: str) -> None:
        s, body, outer = self.system, self.system.body[i], self.system.around[i]
        water, wall, skin = (name, "garment_water"), (name, "wall"), (name, "skin")
        self.store(water, self.of(body, "WATER_CAPACITY"), self.of(s.before[i], "GARMENT_WATER"))
        self.join(water, skin, self.of(body, "GARMENT_CONDUCTANCE"))
        exchange = self.of(s.before[i], "WATER_EXCHANGE")
        offset = exchange * self.of(s.before[i], "INLET_OFFSET")
        self.right[self.places[water]] += offset
        if self.pack:
            self.join(water, self.inlet, exchange)
            self.right[self.places[self.inlet]] -= offset
        else:
            self.matrix[self.places[water], self.places[water]] += exchange
            self.right[self.places[water]] += exchange * self.of(s.spell, "SUPPLY_WATER")
        self.store(wall, self.of(body, "WALL_CAPACITY"), self.of(s.before[i], "WALL"))
        self.join(wall, skin, self.of(outer, "SKIN_WALL"))
        outside = self.of(outer, "WALL_OUTSIDE")
        self.matrix[self.places[wall], self.places[wall]] += outside
        gained = self.of(s.before[i], "TO_WALL") + self.of(outer, "WALL_SUN")
        self.right[self.places[wall]] += gained + outside * self.of(s.spell, "OUTSIDE_TEMPERATURE")

    def _reservoir(self) -> None:
        s, here = self.system, self.places["pack", "reservoir"]
        mass, melted = self.of(s.whole_before, "RESERVOIR_WATER"), self.of(s.whole, "MELTED")
        before = self.of(s.whole_before, "RESERVOIR")
        self.store(("pack", "reservoir"), WATER_SPECIFIC_HEAT * mass, before)
        self.matrix[here, here] += WATER_SPECIFIC_HEAT * melted / 10.0
        gains = self.of(s.traits, "WALL_CONDUCTANCE")
        if self.pack:
            gains += self.of(s.traits, "LINE_CONDUCTANCE")
            self.right[here] += self.of(s.whole, "TUBE_HEAT")
        self.matrix[here, here] += gains
        self.right[here] += gains * self.of(s.spell, "OUTSIDE_TEMPERATURE")
        self.right[here] += self.of(s.spell, "PUMP_HEAT") * self.of(s.whole, "ALIVE")
        self.right[here] -= ICE_LATENT_HEAT * melted / 10.0


@pytest.mark.parametrize("pack", [True, False], ids=["pack", "facility"])
@pytest.mark.parametrize("seed", range(12))
def test_elimination_is_the_dense_solve(seed: int, pack: bool) -> None:
    # Given random heat capacities, conductances, flows and sources in every lane,
    system = System(seed, pack)
    dense = [Dense(system, lane) for lane in range(LANES)]
    expected = np.array([np.linalg.solve(one.matrix, one.right) for one in dense])
    # when the kernel eliminates by hand,
    system.solve()
    found = np.array(list(system.nodes().values())).T
    # then every node of every lane is the dense solution.
    assert found.shape == (LANES, 85 + 34 + 1)
    assert np.abs(found - expected).max() < 1e-10 * np.abs(expected).max()
