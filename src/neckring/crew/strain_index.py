"""Strain from heart rate and core temperature, 0 to 10; undefined without either."""

from __future__ import annotations

HOTTEST = 39.5
"""[degC]; the core temperature that counts as the most."""
FASTEST = 180.0 / 60.0
"""[1/s]; the heart rate that counts as the most."""


def strain_index(
    core: float | None, core_at_rest: float | None, heart: float, heart_at_rest: float
) -> float | None:
    """Physiological strain index, nominally 0 to 10.

    It was made with rectal temperatures of young men; it is neither cut off at 10 nor at 0.

    Args:
        core: Core temperature now [degC]; None where it is not measured.
        core_at_rest: The same before [degC].
        heart: Heart rate now [1/s].
        heart_at_rest: The same before [1/s].

    Returns:
        The index; None without a core temperature, and where the start already lies at the top.

    Source: Moran, Shitzer and Pandolf 1998, American Journal of Physiology 275:R129-R134:
        5 (T - T0)/(39.5 - T0) + 5 (HR - HR0)/(180 - HR0).
    """
    if core is None or core_at_rest is None:
        return None
    if core_at_rest >= HOTTEST or heart_at_rest >= FASTEST:
        return None
    hot = (core - core_at_rest) / (HOTTEST - core_at_rest)
    fast = (heart - heart_at_rest) / (FASTEST - heart_at_rest)
    return 5.0 * hot + 5.0 * fast
