"""What takes seconds, done beside a console that is up: the plan, alarms, the estimate."""

from __future__ import annotations

import gc
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import click

from neckring.served_run.opening import Served, pressure_of
from neckring.served_run.wanted import name_of

if TYPE_CHECKING:
    from neckring.live.estimating import Estimators
    from neckring.live.run_sheet import Planned
    from neckring.outing.scenario import Scenario
    from neckring.station.loading import LoadedStation


def made_ready(served: Served, tell: Callable[[str], None]) -> Callable[[], Estimators]:
    """What takes seconds, to be done beside a console that is up: the plan, alarms, the estimate.

    Args:
        served: The console.
        tell: Told what is being done.
    """

    def work() -> Estimators:
        from neckring.live.estimating import estimators

        wanted, go_on = served.wanted, served.keeper.go_on_or_end
        # Alarms first: until they are watched, the pages say that they are not.
        watch_alarms(served, scenarios_of(served, members=0))
        go_on()
        scenarios, planned = planned_beside(served, tell)
        served.scenarios = scenarios
        if wanted.rehearsal:
            simulate(served, scenarios)
        show_reserves(served, planned)
        go_on()
        served.desk.make_ready()
        go_on()
        if not wanted.particles:
            scenarios = {}
        made = estimators(
            scenarios,
            dict(served.intake.wired),
            served.station.limits,
            wanted.particles,
            wanted.seed,
            wanted.workers,
            tell,
        )
        leave_out_of_collections()
        tell("ready")
        return made

    return work


def scenarios_of(served: Served, members: int = 1) -> dict[str, Scenario]:
    """Each wearer's run as written, help times from kit and procedures where these give them.

    Args:
        served: The console.
        members: 0 for what needs no help times: proving them takes a while.
    """
    from neckring.command_parts import question_about

    seed = served.wanted.seed
    return {
        letter: question_about(served.station, run, members, seed).scenario
        for letter, run in runs_of(served).items()
    }


def runs_of(served: Served) -> dict[str, str]:
    """The code of each wearer's run."""
    return {letter: wearer.run.code for letter, wearer in served.sheet.wearers.items()}


def planned_beside(
    served: Served, tell: Callable[[str], None]
) -> tuple[dict[str, Scenario], dict[str, Planned]]:
    """What `planned_day` says, from a process of its own; from this one where none can be had.

    Args:
        served: The console.
        tell: Told what is being done.
    """
    from neckring.served_run.apart import ApartError, worked_out_apart

    given = (served.station, runs_of(served), served.wanted.seed)
    try:
        return worked_out_apart(served.keeper.go_on_or_end, planned_day, *given)
    except ApartError as error:
        tell(f"plans are worked out beside the taps, not in a process of their own: {error}")
        return planned_day(*given)


def planned_day(
    station: LoadedStation, runs: Mapping[str, str], seed: int
) -> tuple[dict[str, Scenario], dict[str, Planned]]:
    """Each wearer's run as written with its help times, and what its plan says of reserves.

    Args:
        station: As read.
        runs: Codes by wearer.
        seed: Of what is drawn.
    """
    from neckring.command_parts import question_about
    from neckring.live.run_sheet import planned_reserves
    from neckring.outing.plan import make_plan

    scenarios = {
        letter: question_about(station, run, 1, seed).scenario for letter, run in runs.items()
    }
    planned = {
        letter: planned_reserves(make_plan(scenario, station.limits), scenario.run)
        for letter, scenario in scenarios.items()
    }
    return scenarios, planned


def leave_out_of_collections() -> None:
    """From now on what there is now is no longer looked through for garbage.

    Station, sheet and procedures stay as long as the console does. To look through them all took
    0.2 s, now and then, in which no tap was answered.
    """
    gc.freeze()


def watch_alarms(served: Served, scenarios: Mapping[str, Scenario]) -> None:
    """From now on alarms are watched."""
    from neckring.live.alarm_watch import AlarmWatch

    served.watch.alarms = AlarmWatch(
        served.sheet, served.station.limits, scenarios, served.intake.wired
    )


def show_reserves(served: Served, planned: Mapping[str, Planned]) -> None:
    """From now on clocks of reserves stand on what the plan as written says."""
    served.sheet = replace(served.sheet, planned=dict(planned))
    served.desk.sheet = served.sheet
    if served.shown is not None:
        served.shown.sheet = served.sheet
    if served.watch.alarms is not None:
        served.watch.alarms.sheet = served.sheet


def simulate(served: Served, scenarios: Mapping[str, Scenario]) -> None:
    """Put simulated suits on the wearers."""
    from neckring.live.rehearsing import Rehearsal
    from neckring.live.simulated_suit import SimulatedSuit, SuitedTruth
    from neckring.live.trainer_scores import Scores

    seed, intake = served.wanted.seed, served.intake
    suits = {
        letter: SimulatedSuit(
            letter,
            SuitedTruth(scenario, seed * 1009 + number),
            intake.wired[letter].channels,
            pressure_of(served.station),
            seed * 1013 + number,
        )
        for number, (letter, scenario) in enumerate(scenarios.items())
    }
    trainers = [code for code, part in served.sheet.people.items() if part == "trainer"]
    served.scored = Scores(served.book, served.sheet, scenarios)
    served.watch.rehearsal = Rehearsal(
        suits,
        served.sheet,
        intake,
        served.timeline,
        name_of(served.wanted),
        trainers[0] if trainers else "trainer",
        served.wanted.speed,
        served.desk.take,
        served.store.add,
        served.book.entries,
        served.desk.clock.set_speed,
    )


def begin(served: Served) -> None:
    """Begin to listen to sensors, and to make ready what takes seconds."""

    def tell(what: str) -> None:
        click.echo(f"  live estimate: {what}", err=True)

    for source in served.sources:
        source.start()
    served.keeper.estimate(made_ready(served, tell), served.book, served.store)
