"""The closed list of alarms: what tells us how people are, and no longer does."""

from __future__ import annotations

from neckring.live.listed_alarm import AT_ONCE, KNOW, PRACTICE, SOON, Listed

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


INSTRUMENTS: tuple[Listed, ...] = (
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
"""In the order of the whole list."""
