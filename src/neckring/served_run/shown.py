"""The console as its pages see it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from neckring.served_run.opening import Served
from neckring.served_run.wanted import SESSIONS

if TYPE_CHECKING:
    from neckring.live.fault_catalogue import Breakable
    from neckring.live.readings_file import ReadingsReader
    from neckring.web.console_parts import ConsoleParts, Score, Trainer


def parts_of(served: Served, trainer: Trainer | None = None) -> ConsoleParts:
    """The console as its pages see it."""
    from importlib.metadata import version

    from neckring.outing.cautions import CAUTIONS_WITH_FAILURES
    from neckring.web.console_parts import ConsoleParts
    from neckring.web.session_file import SessionFile

    return ConsoleParts(
        desk=served.desk,
        book=served.book,
        sheet=served.sheet,
        intake=served.intake,
        estimates=lambda: served.watch.estimates,
        history=lambda wearer, channel: history(served.store, wearer, channel),
        keep_readings=served.store.add,
        heard=served.watch.heard,
        troubles=served.watch.troubles,
        trainer=trainer,
        keeper=SessionFile(served.wanted.kept / SESSIONS),
        cautions=CAUTIONS_WITH_FAILURES,
        version=version("neckring"),
    )


def history(store: ReadingsReader, wearer: str, channel: str) -> list[tuple[float, float | None]]:
    """Readings of a channel so far; a flawed one is a gap."""
    columns = store.columns(wearer, channel)
    good = columns.good
    return [
        (float(at), float(value) if fine else None)
        for at, value, fine in zip(columns.run_time, columns.value, good, strict=True)
    ]


def trainer_of(served: Served) -> Trainer:
    """What the trainer can break, and how it was met so far."""
    from neckring.web.console_parts import Trainer

    return Trainer(lambda: breakable(served), lambda: scores(served))


def breakable(served: Served) -> list[Breakable]:
    """What can be broken now, in any of the suits."""
    from neckring.live.fault_catalogue import possible_now
    from neckring.live.usable_readings import doing_of

    found: dict[str, Breakable] = {}
    for letter, scenario in served.scenarios.items():
        doing = doing_of(served.desk.state, letter)
        if doing is not None:
            names = [channel.name for channel in served.intake.wired[letter].channels]
            found |= {one.code: one for one in possible_now(scenario, doing.number, names)}
    return list(found.values())


def scores(served: Served) -> list[Score]:
    """How each fault so far was met."""
    from neckring.web.console_parts import Score

    if served.scored is None:
        return []
    made = []
    for story in served.scored.report().stories:
        noticed, help_time = story.noticed, story.help
        allowed = None if help_time is None else (help_time.air if story.needs_air else None)
        made.append(
            Score(
                story.wearer,
                story.words,
                story.begun,
                noticed.who if noticed else "",
                noticed.after if noticed else None,
                story.action.after if story.action else None,
                story.fresh_air.after if story.fresh_air else None,
                allowed,
            )
        )
    return made
