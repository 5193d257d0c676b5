"""The closed list of alarms: cause, rank, words, first action, what clears each, and its source.

Nothing raises an alarm that is not in `ALARMS`; docs/alarms.md is made from it. No limit is written
here: the values come from the signed sheet, the suit's file and the station's policy. What is of
our own choosing says "practice".

Source: 14 CFR 25.1322 (a)(1), (a)(3), (c)(1), (c)(3): an alert says what is wrong and what to do,
is removed when its condition is gone, is ordered within its rank, and may be acknowledged.
"""

from __future__ import annotations

from dataclasses import dataclass

from neckring.live.alarm import Rank
from neckring.station.limits import LIMITED

PRACTICE = "practice"
SHEET = "the signed limit sheet"
POLICY = "policy of the station"


@dataclass(frozen=True)
class Listed:
    """One alarm that can be.

    Attributes:
        code: Of its cause.
        family: Causes of one family and one subject share one alarm: it goes from one stage to the
            next without being raised anew.
        rank: How urgent; None when the action of the limit that is crossed says so.
        means: When it is raised, in words.
        first_action: What to do first.
        clears: What ends it.
        source: Where it comes from.
        waits: How long its cause must hold before it is raised [s]; a limit's own time where the
            sheet gives one.
        lingers: How long its cause must be gone before it ends [s].
    """

    code: str
    family: str
    rank: Rank | None
    means: str
    first_action: str
    clears: str
    source: str
    waits: float = 0.0
    lingers: float = 30.0


KNOW, SOON, AT_ONCE = Rank.KNOW, Rank.ACT_SOON, Rank.ACT_AT_ONCE

RANK_OF_ACTION = {"caution": KNOW, "turn back": SOON, "stop now": AT_ONCE}
"""Rank of a crossed limit, by the action that the sheet asks for."""

QUANTITY_WORDS = {
    "core_temperature": "core temperature",
    "core_rise": "core rise",
    "mean_skin_temperature": "mean skin temperature",
    "lowest_skin_temperature": "coldest skin",
    "skin_core_gap": "core over mean skin",
    "heart_rate": "heart rate",
    "body_water_loss": "body water loss",
    "heat_storage": "heat storage",
    "inspired_co2": "inspired CO2",
    "inspired_o2": "inspired O2",
    "fog_margin": "visor fog margin",
    "water_inlet_temperature": "water into the garment",
    "battery_charge": "battery charge",
    "load_fraction": "carried load",
}
"""What a limited quantity is called in an alarm."""

_COOL = "Rest in the shade, cooling full on; then home, or out of the suit."
FIRST_ACTIONS = {
    "core_temperature": _COOL,
    "core_rise": _COOL,
    "mean_skin_temperature": _COOL,
    "lowest_skin_temperature": "Ask whether hands or feet hurt; close the water valve further.",
    "skin_core_gap": _COOL,
    "heart_rate": "Stand still and rest; ask how the wearer feels; watch the rate fall.",
    "body_water_loss": "Drink, if the suit allows it; shorten the outing.",
    "heat_storage": _COOL,
    "inspired_co2": "Stop work, breathe calmly; fresh air at the face: visor or helmet open.",
    "inspired_o2": "Fresh air at the face at once: visor or helmet open.",
    "fog_margin": "Stand still where the footing is sure until the visor is clear.",
    "water_inlet_temperature": "Less work; change or chill the reservoir, or turn for home.",
    "battery_charge": "Turn for home, or change the battery.",
    "load_fraction": "Take load off before going on.",
}
"""What to do first about each limited quantity; practice, where the sheet says only how far."""

# Which flaw of a reading is which cause.
FLAW_CODES = {
    "stale": "sensor-stale",
    "frozen": "sensor-frozen",
    "impossible": "sensor-impossible",
    "jumped": "sensor-jumped",
    "unit mistaken": "sensor-unit",
    "clock off": "sensor-clock",
}
_LOOK = "Look at the sensor and its plug; go by the tender's eyes and the symptom calls."
_RANK_OF_SENSOR = "know; act soon where the sheet says stop now for what it measures"


def limit_code(quantity: str) -> str:
    """The code of a limited quantity's alarm."""
    return f"limit-{quantity.replace('_', '-')}"


def _limits() -> tuple[Listed, ...]:
    return tuple(
        Listed(
            limit_code(quantity),
            limit_code(quantity),
            None,
            f"{QUANTITY_WORDS[quantity]} beyond a limit of the signed sheet, read or estimated",
            FIRST_ACTIONS[quantity],
            "back within the limit by more than its dead band",
            SHEET,
        )
        for quantity in LIMITED
    )


def _sensor(flaw: str, code: str, means: str, action: str = _LOOK) -> Listed:
    return Listed(
        code,
        "sensor",
        KNOW,
        means,
        action,
        "good readings again",
        f"practice; the flaw '{flaw}' of a reading. Rank: {_RANK_OF_SENSOR}",
        waits=5.0,
        lingers=60.0,
    )


ALARMS: tuple[Listed, ...] = (
    # People
    Listed(
        "stop-called",
        "stop-called",
        AT_ONCE,
        "somebody called a stop",
        "All stand still. Ask both wearers. The lead resumes, or the wearers come in.",
        "the lead resumes, or the run is closed",
        "practice: anyone may call a stop",
        lingers=0.0,
    ),
    Listed(
        "symptom",
        "symptom",
        AT_ONCE,
        "a symptom was told or seen",
        "Stop. Fresh air at the face, out of the suit, medic: whatever the numbers say.",
        "the medic releases the wearer",
        "any symptom stops a run: design of the station's cautions",
        lingers=0.0,
    ),
    Listed(
        "call-missed",
        "call-missed",
        AT_ONCE,
        "a symptom call was not answered in its time",
        "Call again, by name. No answer: send a tender, open the card for a wearer who is down.",
        "the next call is answered",
        "practice",
        lingers=0.0,
    ),
    # What fails
    Listed(
        "air-lost",
        "air-lost",
        AT_ONCE,
        "the air flow that is read is less than three tenths of what it should be",
        "Fresh air at the face: visor or helmet open, now.",
        "four tenths of the air flow again",
        PRACTICE,
        waits=3.0,
    ),
    Listed(
        "battery-empty",
        "battery",
        AT_ONCE,
        "the battery's voltage is at the cut-off voltage of the suit's file",
        "Pump and fans stop next: visor open, then the card for lost air.",
        "the voltage is 3 % above the cut-off again",
        "the suit's file",
        waits=5.0,
        lingers=60.0,
    ),
    *_limits(),
    Listed(
        "co2-trend",
        "co2-trend",
        SOON,
        "carbon dioxide in the helmet rises so fast that it passes the signed stop within 2 min",
        "Stop work, breathe calmly; check the fans; make ready to open the visor.",
        "at this rise the signed stop is more than 3 min away",
        "the signed limit sheet; the 2 min are practice",
        waits=15.0,
        lingers=60.0,
    ),
    Listed(
        "turn-back-passed",
        "turn-back",
        AT_ONCE,
        "the time at which the way home must begin has passed",
        "Home now, by the shortest way. Send a tender to meet the wearer.",
        "the wearer is on the way home and slack is back, or is at the bay",
        "harm clock against help clock (docs/model.md)",
        waits=10.0,
        lingers=60.0,
    ),
    Listed(
        "slack-below-reserve",
        "slack",
        AT_ONCE,
        "if something fails now, help likely comes later than the policy's reserve allows",
        "Shorten the way to help: turn for home, or bring the tender to the wearer.",
        "slack is a tenth above the reserve again",
        POLICY,
        waits=10.0,
        lingers=60.0,
    ),
    Listed(
        "slack-in-doubt",
        "slack",
        SOON,
        "if something fails now, help may come later than the reserve allows: 1 in 20 or more",
        "Shorten the way to help, or do what would make the estimate surer.",
        "slack is a tenth above the reserve again",
        POLICY,
        waits=30.0,
        lingers=60.0,
    ),
    Listed(
        "water-lost",
        "water-lost",
        SOON,
        "the water flow that is read is less than three tenths of what it should be",
        "Stop work. Look for a kink or a parted coupling; pump on? Then the card for lost water.",
        "four tenths of the water flow again",
        PRACTICE,
        waits=10.0,
    ),
    Listed(
        "clock-over",
        "clock",
        AT_ONCE,
        "a reserve clock has run out",
        "Carry out what this clock was set for: end the stage that it stands for.",
        "the clock is stopped or set anew",
        "practice; the station's reserve clocks",
        lingers=0.0,
    ),
    Listed(
        "clock-near",
        "clock",
        SOON,
        "a reserve clock has less than 2 min left",
        "Finish this stage, or make ready for what the clock stands for.",
        "the clock is stopped or set anew, or runs out",
        "practice; the station's reserve clocks",
        lingers=0.0,
    ),
    Listed(
        "turn-back-soon",
        "turn-back",
        SOON,
        "less than 5 min until the way home must begin",
        "End the work. Turn for home.",
        "more than 6 min again, or the way home begun",
        "practice: 5 min",
        waits=10.0,
        lingers=60.0,
    ),
    Listed(
        "battery-low",
        "battery",
        SOON,
        "the battery's voltage is less than 3 % above the cut-off voltage of the suit's file",
        "Turn for home, or change the battery at the bay.",
        "more than 5 % above the cut-off again",
        "practice: 3 %",
        waits=30.0,
        lingers=60.0,
    ),
    Listed(
        "suspicion-strong",
        "suspicion",
        SOON,
        "readings and model part, and one explanation is more likely than 9 in 10",
        "Look where it points; it is a suspicion, not a finding.",
        "the chance is below 8 in 10 for a minute",
        "practice: 9 in 10",
        waits=30.0,
        lingers=60.0,
    ),
    # What tells us
    Listed(
        "source-gone",
        "source-gone",
        SOON,
        "every channel of one source is stale",
        "Receiver, radio, batteries. Until it is back: symptom calls twice as often.",
        "one channel of it is good again",
        PRACTICE,
        lingers=60.0,
    ),
    Listed(
        "sensors-many",
        "sensors-many",
        SOON,
        "four or more channels of one wearer are not good at once",
        "Receiver, radio, batteries. Until they are back: symptom calls twice as often.",
        "at most one of them is not good",
        PRACTICE,
        lingers=60.0,
    ),
    Listed(
        "book-unwritable",
        "book",
        AT_ONCE,
        "the log book cannot be written: nothing that is tapped is recorded",
        "Write on paper, with times. Free the disk or change the machine.",
        "an entry is written again",
        PRACTICE,
        lingers=5.0,
    ),
    Listed(
        "disk-nearly-full",
        "disk",
        SOON,
        "less than 500 MB or 2 % of the disk is free",
        "Free room on the disk; no run's file is to be deleted for it.",
        "twice as much is free",
        "practice: a run with two suits takes some 30 MB",
        lingers=60.0,
    ),
    Listed(
        "turn-back-near",
        "turn-back",
        KNOW,
        "less than 10 min until the way home must begin",
        "Tell the wearer. Begin to end the work.",
        "more than 12 min again, or the way home begun",
        "practice: 10 min",
        waits=10.0,
        lingers=60.0,
    ),
    Listed(
        "suspicion",
        "suspicion",
        KNOW,
        "readings and model part, and one explanation is more likely than not",
        "Look where it points; it is a suspicion, not a finding.",
        "the chance is below 4 in 10 for a minute",
        "practice: 1 in 2",
        waits=30.0,
        lingers=60.0,
    ),
    Listed(
        "estimate-old",
        "estimate-old",
        KNOW,
        "the live estimate is older than 3 min",
        "Go by readings, symptom calls and the plan's turn-back time.",
        "an estimate comes again",
        PRACTICE,
        lingers=5.0,
    ),
    _sensor("stale", "sensor-stale", "a channel has sent nothing for longer than it may"),
    _sensor("frozen", "sensor-frozen", "a channel sends the very same value for too long"),
    _sensor("impossible", "sensor-impossible", "a channel sends what cannot be"),
    _sensor("jumped", "sensor-jumped", "a channel's value jumped further than the thing can"),
    _sensor(
        "unit mistaken",
        "sensor-unit",
        "a channel's values would fit another unit than the one said",
        "Do not go by this channel. Correct its unit in the suit's file after the run.",
    ),
    _sensor(
        "clock off",
        "sensor-clock",
        "a channel's own clock differs from the console's",
        "Go by the time of arrival, which the console shows; set the sensor's clock later.",
    ),
    Listed(
        "network-lost",
        "network-lost",
        SOON,
        "no tablet has been heard from",
        "Access point and its power. Taps wait on the tablets; go by voice and paper.",
        "a tablet is heard again",
        PRACTICE,
        lingers=10.0,
    ),
    Listed(
        "tablet-silent",
        "tablet-silent",
        KNOW,
        "a paired tablet has not been heard from for 30 s",
        "Ask who holds it; its taps wait on it and come once each when it is back.",
        "it is heard again, or unpaired",
        PRACTICE,
        waits=5.0,
        lingers=10.0,
    ),
    Listed(
        "clock-set",
        "clock-set",
        KNOW,
        "the console's wall clock was set by more than 2 s",
        "Nothing in the run depends on it. Say the new offset in the record.",
        "5 min after it was set",
        PRACTICE,
        lingers=0.0,
    ),
    Listed(
        "database-version",
        "database-version",
        KNOW,
        "the log book's database is a version with a known fault",
        "Go on with one console only; update it before the next run.",
        "a console with a version without the fault is started",
        "the database's own notes on its versions (docs/decisions.md)",
        lingers=0.0,
    ),
)
"""Every alarm, the more urgent first; within a rank in this order."""

LISTED = {listed.code: listed for listed in ALARMS}
PLACE = {listed.code: place for place, listed in enumerate(ALARMS)}
