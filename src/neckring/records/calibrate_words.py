"""A calibration in words: numbers in their units, bands, what each stands on."""

from __future__ import annotations

import math

from neckring.calibration.findings import Correction, DrillTime, RunHeard, StepTime
from neckring.live.estimated import Band
from neckring.units import format_quantity

TITLE = "Calibration"
NO_BAND = "-"
PURPOSE = "A proposal, nothing is changed; the lead decides with --write."
UNITS = {"volume_flow": "L/min", "charge": "Ah", "conductance": "W/K"}
"""In which unit each number is told, so that a column has one."""


def number_words(value: float, dimension: str) -> str:
    """One number with its unit."""
    if dimension == "number":
        return f"{value:.2f}"
    return format_quantity(value, dimension, UNITS.get(dimension, ""))


def band_words(band: Band, dimension: str) -> str:
    """Middle and 90 % band: "21.4 W/K (20.1 to 22.6)"."""
    ends = (number_words(end, dimension).split(" ")[0] for end in (band.low, band.high))
    return f"{number_words(band.middle, dimension)} ({' to '.join(ends)})"


def stands_words(one: Correction) -> str:
    """On how much a number stands."""
    runs = "1 run" if one.runs == 1 else f"{one.runs} runs"
    return f"{runs}, {one.readings} readings"


def proposal_words(text: str) -> str:
    """What is proposed, or that nothing is."""
    return text or "nothing"


def seconds_words(value: float | None) -> str:
    """A time in seconds; a dash for none."""
    return NO_BAND if value is None or not math.isfinite(value) else f"{value:.1f} s"


def step_band_words(one: StepTime) -> str:
    """Median of a step with its band."""
    if one.likely is None:
        return NO_BAND
    low, high = one.band
    ends = " to ".join("?" if end is None else f"{end:.1f}" for end in (low, high))
    return f"{one.likely:.1f} s ({ends})"


def drill_words(one: DrillTime) -> str:
    """P50 and P90 of drills."""
    return f"P50 {seconds_words(one.p50)}, P90 {seconds_words(one.p90)}"


def step_stands_words(one: StepTime) -> str:
    """On how many times a step stands, and how many were left out."""
    out = sum(one.left_out.values())
    times = "1 time" if one.number == 1 else f"{one.number} times"
    return f"{times}, {out} left out" if out else times


def run_words(one: RunHeard) -> str:
    """What one run gave, in a line."""
    begins = f"{one.name}: {one.run}, wearer {one.wearer}, suit {one.suit}"
    if one.work is None:
        return f"{begins}: nothing learned from readings"
    day = band_words(one.work, "number")
    rest = "" if one.settled else "; the estimate did not quite come to rest"
    return f"{begins}: {one.minutes:.0f} min, {one.readings} readings; work that day {day}{rest}"
