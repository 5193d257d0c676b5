"""A mistake put into a demo procedure is told in words: what happens, when, and what catches it.

The mistakes are those that a student makes: the air check left out, a line parted with the valve
open, the check of the two water lines left out so that they may be swapped.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from pathlib import Path

from neckring.procedure.asked import Asked
from neckring.procedure.examination import Examination
from neckring.procedure.examiner import examine
from neckring.procedure.findings import Verdict
from neckring.procedure.listing import listed
from neckring.records import proof_summary
from neckring.station.loading import LoadedStation, load_station
from neckring.station.procedure_sheet import ProcedureSheet, StepText

DEMO = Path(str(files("neckring.station"))) / "demo"


@cache
def demo() -> LoadedStation:
    return load_station(DEMO)


def without(code: str, *left_out: tuple[str, str | None]) -> Examination:
    """A demo procedure examined without some steps, named by move or check and by wearer."""
    station, sheet = demo(), demo().procedures[code]

    def kept(step: StepText) -> bool:
        name = step.move or step.check
        return not any(name == what and whom in (None, step.target) for what, whom in left_out)

    steps = tuple(step for step in sheet.steps if kept(step))
    assert len(steps) < len(sheet.steps)
    changed: ProcedureSheet = sheet.model_copy(update={"steps": steps})
    made = listed(code, {**station.procedures, code: changed}, station.kits)
    return examine(made, Asked(pairs=False, ways=False))


def told(found: Examination) -> str:
    """The summary of the terminal as one line."""
    from io import StringIO

    from rich.console import Console

    out = StringIO()
    console = Console(file=out, width=100)
    proof_summary.print_summary(found, console, report="report.html", invented=True)
    return " ".join(out.getvalue().split())


def test_without_the_air_checks_the_report_tells_of_a_death_and_of_the_check_that_prevents_it():
    # Given the way out without a look at the air before and behind the shut visor,
    found = without("go", ("pack_air_flow", None), ("air_felt", None))
    # when it is examined,
    words = told(found)
    # then a dead battery is told with what follows, how soon, and which check is to be added.
    assert found.verdict == "broken"
    assert "death in" in words
    assert "The battery dies (wearer A). The visor is shut and no air moves" in words
    assert "add checks catch" in words
    assert "feel air on the face (wearer A)" in words


def test_a_line_parted_with_its_valve_open_is_told_at_its_step():
    # Given a changeover in which nobody shuts A's wall water valve nor looks at it,
    found = without("changeover", ("close_water_valve", "A"), ("wall_water_off", "A"))
    # when it is examined,
    words = told(found)
    # then it is broken at the step at which the line is parted, in the rule's words.
    assert "BROKEN" in words
    assert "The wall water valve is open and a water line is loose (wearer A)" in words
    assert found.claims[0].verdict is Verdict.BROKEN
    parting = next(
        number
        for number, step in enumerate(found.listed.sheet.steps, start=1)
        if step.move in ("part_cold_line", "part_warm_line") and step.target == "A"
    )
    assert f"at step {parting}" in words


def test_swapped_water_lines_are_told_with_the_look_that_finds_them():
    # Given dressing without the second person's look at the letters of the ports,
    found = without("dress", ("lines_matched", None))
    # when it is examined,
    words = told(found)
    # then the swapped lines are told at the step at which the water is turned on, and the look that
    # was left out is advised again.
    assert found.verdict == "broken"
    swapped = [story.sentence for story in found.stories if "swapped" in story.sentence]
    assert swapped
    for sentence in swapped:
        assert "Water is turned on with the cold line and the warm line swapped" in sentence
        assert "The one-way valve of the garment bursts." in sentence
        assert "It would be noticed if the tender" in sentence
        assert "read C on both parts of port C" in sentence
    assert "read C on both parts of port C (wearer A)" in words
