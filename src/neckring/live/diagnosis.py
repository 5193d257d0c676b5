"""What may be wrong when readings and model part: chances that add up to 1, none ever certain."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from neckring.live.estimated import Suspicion
from neckring.live.fault_modes import MODES, SOUND
from neckring.live.likelihood import QUANTITIES, Belief

FloatArray = NDArray[np.float64]

NOTHING = "nothing_wrong"
SENSOR = "sensor_wrong"
# Share of the belief that is kept back for what this list does not know and the model gets wrong,
# spread evenly over all faults: no chance can come nearer to 1 than this leaves (assumed).
KEPT_BACK = 0.06
# Chance from which a suspicion is shown; chosen on hidden worlds, see docs/estimate.md.
SHOWN = 0.3


def chances(
    mode: FloatArray, weights: FloatArray, belief: Belief, used: frozenset[str]
) -> dict[str, float]:
    """Belief in every explanation; all of them add up to 1.

    Args:
        mode: Fault of each particle.
        weights: Of the particles, adding up to 1.
        belief: What each thinks of its sensors.
        used: Quantities that have ever been read: only their sensors can be wrong.

    Returns:
        Code to chance; a wrong sensor is "sensor_wrong:QUANTITY".
    """
    masses = np.bincount(mode.astype(np.int64), weights, len(MODES))
    found = {m.code: float(p) for m, p in zip(MODES, masses, strict=True) if m.code != "sound"}
    found |= _wrong_sensors(mode == SOUND, weights, belief, used)
    rest = max(0.0, 1.0 - sum(found.values()))
    even = KEPT_BACK / len(found)
    kept = {code: (1.0 - KEPT_BACK) * chance + even for code, chance in found.items()}
    return {NOTHING: (1.0 - KEPT_BACK) * rest, **kept}


def _wrong_sensors(
    sound: NDArray[np.bool_], weights: FloatArray, belief: Belief, used: frozenset[str]
) -> dict[str, float]:
    """Chance that a sensor is wrong and else nothing is; several at once share it."""
    places = [n for n, name in enumerate(QUANTITIES) if name in used]
    wrong = 1.0 - belief.good[:, places]
    some = 1.0 - np.prod(1.0 - wrong, axis=1)
    shares = wrong / np.maximum(wrong.sum(axis=1, keepdims=True), 1e-300)
    each = (np.where(sound, weights, 0.0) * some) @ shares
    return {f"{SENSOR}:{QUANTITIES[n]}": float(c) for n, c in zip(places, each, strict=True)}


def suspicions(found: dict[str, float], used: frozenset[str]) -> tuple[Suspicion, ...]:
    """What is shown: suspicions beyond the threshold, the likeliest first."""
    shown = [
        suspicion_of(code, chance, used)
        for code, chance in found.items()
        if code != NOTHING and chance >= SHOWN
    ]
    return tuple(sorted(shown, key=lambda suspicion: -suspicion.chance))


def suspicion_of(code: str, chance: float, used: frozenset[str]) -> Suspicion:
    """One suspicion in words."""
    kind, _, quantity = code.partition(":")
    if kind == SENSOR:
        words = quantity.replace("_", " ").replace("co2", "CO2").replace("o2", "O2")
        return Suspicion(
            SENSOR,
            f"the reading of {words} is wrong",
            chance,
            (quantity,),
            "Read it another way; until then decide without it.",
        )
    mode = next(mode for mode in MODES if mode.code == code)
    stands_on = tuple(name for name in mode.shows if name in used)
    return Suspicion(code, mode.words, chance, stands_on, mode.first_action)
