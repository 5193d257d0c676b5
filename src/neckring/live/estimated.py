"""What the live estimate says of one wearer: frozen records, data only, SI inside."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Band:
    """A number that is not known exactly.

    Attributes:
        low: 5 % of the belief lies below.
        middle: Half of it.
        high: 95 % of it.
    """

    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class LiveSlack:
    """One failure held against help now.

    Attributes:
        code: Of the failure.
        words: In a sentence: "the fans stop".
        harm: From now to the first limit that leaves the least slack [s]; may be infinite.
        help: From now to relief [s].
        slack: Harm less help [s].
        reserve: What the policy keeps free [s].
        limit: Quantity whose limit is crossed first.
        relief: What would end the harm.
    """

    code: str
    words: str
    harm: Band
    help: Band
    slack: Band
    reserve: float
    limit: str
    relief: str


@dataclass(frozen=True)
class Suspicion:
    """What may be wrong when readings and model part.

    Attributes:
        code: "main_kinked", "branch_kinked", "pump_weak", "sensor_wrong", "harder_work", ...
        words: In a sentence.
        chance: Belief in it, 0..1; all suspicions and "nothing wrong" add up to 1.
        stands_on: Channels whose readings speak for it.
        first_action: What to look at or do first.
    """

    code: str
    words: str
    chance: float
    stands_on: tuple[str, ...]
    first_action: str


@dataclass(frozen=True)
class Estimated:
    """One wearer at one instant.

    Attributes:
        wearer: A or B.
        run_time: For which it holds [s].
        quantities: Column of the trace to its band: core_temperature, heart_rate, inspired_co2,
            reservoir_temperature, ice, charge, ... (docs/vocabulary.md), and what was learned:
            work_factor, garment_conductance, battery_capacity.
        failures: Every failure that can happen now, the least slack beyond its reserve first.
        turn_back: Run time at which the way home must begin [s]; None when no time keeps it.
        binding: Which failure and limit binds, in words.
        suspicions: The likeliest first; empty while readings and model agree.
        stands_on: Channels used in this round; not those that are stale or flawed.
        left_out: Channel to why it was not used.
        effective: Effective number of particles.
    """

    wearer: str
    run_time: float
    quantities: dict[str, Band]
    failures: tuple[LiveSlack, ...]
    turn_back: Band | None
    binding: str
    suspicions: tuple[Suspicion, ...]
    stands_on: tuple[str, ...]
    left_out: dict[str, str]
    effective: float
