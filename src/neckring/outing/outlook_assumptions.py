"""What a look ahead stands on beside what the plan stands on: failures, help, drawn doubts."""

from __future__ import annotations

from typing import Literal

from neckring.outing import breakage, help_clock
from neckring.outing.doubts import MODEL_DOUBTS
from neckring.outing.findings import Assumption
from neckring.outing.help_clock import can_carry, people_to_carry
from neckring.outing.scenario import Scenario
from neckring.outing.way_home import USUAL_SPEED
from neckring.station.help import Help, ProvedHelp

Status = Literal["published", "assumed", "station"]


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _failures() -> tuple[str, ...]:
    return (
        f"weak fans turn at {_percent(breakage.WEAK_FAN_SPEED)} of their speed, a weak pump at "
        f"{_percent(breakage.WEAK_PUMP_SPEED)}",
        f"a kinked hose keeps {_percent(breakage.KINKED_MAIN_AREA)} of its area, a kinked branch "
        f"{_percent(breakage.TUBES_LEFT_BY_A_KINK)} of the tubes, a flattened garment "
        f"{_percent(breakage.TUBES_LEFT_WHEN_FLATTENED)}",
        f"a leak leaves {_percent(breakage.WATER_LEFT_BY_A_LEAK)} of the reservoir's water; "
        f"inside the suit {breakage.WATER_INTO_THE_SUIT:g} kg of it soak the underwear",
        f"cold leaves {_percent(breakage.CHARGE_LEFT_BY_COLD)} of the battery's charge and "
        f"{breakage.RESISTANCE_BY_COLD:g} times its resistance",
        "after a failure the wearer goes on until it is noticed, walks home without load by the "
        "shortest way, and waits at the bay with the failure still there",
    )


def _help(scenario: Scenario) -> list[Assumption]:
    times, hands = scenario.suit.help_times, scenario.run.hands
    left_out = ", ".join((*times.assumed, *hands.assumed))
    carried = "they can" if can_carry(scenario) else "they cannot"
    lines: list[tuple[str, str, Status]] = [
        (
            "way home at the slowest planned walk, spread by the suit's speed_factor; "
            f"{USUAL_SPEED:g} m/s when the run never walks",
            "assumed",
            "assumed",
        ),
        (
            f"a wearer who walks slowly has {_percent(help_clock.SLOW_SHARE)} of that speed",
            "assumed",
            "assumed",
        ),
        (
            f"carrying this wearer takes {people_to_carry(scenario)} people; with "
            f"{hands.tenders} {carried}, else the wearer is undressed where they lie",
            f"{scenario.station.policy.lift_limit.text} a helper; no more than "
            f"{help_clock.MOST_LIFTERS} lift together, HSE L23",
            "published",
        ),
        ("at the bay somebody who can open the helmet is at hand", "assumed", "assumed"),
        *_origins(times),
    ]
    if left_out:
        lines.append((f"left out, so taken as usual: {left_out}", "assumed", "assumed"))
    return [Assumption("help", *line) for line in lines]


def _origins(times: Help) -> list[tuple[str, str, Status]]:
    """Where the times of help come from."""
    proved = times.origins if isinstance(times, ProvedHelp) else {}
    lines: list[tuple[str, str, Status]] = [
        (f"{key}: {getattr(times, key).text}, the fastest way out", origin, "station")
        for key, origin in proved.items()
    ]
    rest = "the other times of help come" if proved else "times of help come"
    words = f"{rest} from the suit's file, not from a proved procedure"
    return [*lines, (words, "station file", "station")]


def outlook_assumptions(scenario: Scenario) -> tuple[Assumption, ...]:
    """Everything a look ahead on a scenario stands on."""
    failures = [Assumption("failures", words, "assumed", "assumed") for words in _failures()]
    drawn = [
        Assumption("doubts", f"{doubt.label}: {doubt.written}", doubt.source, "assumed")
        for doubt in MODEL_DOUBTS
    ]
    together = Assumption(
        "doubts",
        "what is uncertain in the same way in several places moves together: a warm day is warm "
        "everywhere",
        "assumed",
        "assumed",
    )
    return (*failures, *_help(scenario), *drawn, together)
