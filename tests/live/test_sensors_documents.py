"""docs/sensors.md keeps up with the code."""

from __future__ import annotations

import re
from pathlib import Path

from neckring.live.reading import Flaw
from neckring.live.sensors import gas_reference, mqtt, quality, senml
from neckring.station.sensed import SENSED

PAGE = (Path(__file__).parents[2] / "docs" / "sensors.md").read_text(encoding="utf-8")


def test_every_assumption_stands_on_the_page_as_it_counts() -> None:
    rows = re.findall(r"^\| `(\w+)` \| `(.+?)` \| `(.+?)` \| `(.+?)` \| `(.+?)` \|$", PAGE, re.M)
    said = {quantity: rest for quantity, *rest in rows}
    assert said == {
        quantity: [known.plausible, known.jump, known.accuracy, known.frozen_after]
        for quantity, known in SENSED.items()
    }


def test_every_flaw_has_its_row() -> None:
    rows = re.findall(r"^\| ([a-z ]+) \| [^|]+ \| [^|]+ \| [^|]+ \|$", PAGE, re.M)
    assert {flaw.value for flaw in Flaw} <= set(rows)


def test_the_figures_in_the_text_are_those_in_force() -> None:
    assert quality.STALE_INTERVALS == 3
    assert quality.STALE_GRACE == 1
    assert quality.SETTLED == 5
    assert quality.DEVIATIONS == 5
    assert f"more than {quality.CLOCK_SLACK:g} s from the desk's" in PAGE
    assert f"keep-alive of {mqtt.KEEP_ALIVE} s" in PAGE
    assert f"each {mqtt.FIRST_WAIT} to {mqtt.LONGEST_WAIT} s" in PAGE
    assert f"at most {senml.LONGEST_PACK // 1024} KiB" in PAGE
    assert f"{senml.MOST_RECORDS:,} records a pack" in PAGE
    assert f"else {gas_reference.ASSUMED_AIR_TEMPERATURE:g} degC, assumed" in PAGE
