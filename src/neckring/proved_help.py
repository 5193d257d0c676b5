"""What help takes, from the kit and the procedures of a station: the help clock of a plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from neckring.station.help import ProvedHelp
from neckring.station.suit import Suit
from neckring.units import parse_quantity

if TYPE_CHECKING:
    from neckring.procedure.listing import Listed
    from neckring.procedure.way_out import FastestWay
    from neckring.station.loading import LoadedStation


@dataclass(frozen=True)
class Asked:
    """One time that a plan wants.

    Attributes:
        key: Of the suit's `help`.
        goal: Which relief, as `way_out.Goal` names it.
        company: Who helps, as `way_out.Company` names it.
        failure: Code of the failure in a plan after which it is wanted; "" for none.
    """

    key: str
    goal: str
    company: str
    failure: str


ASKED = (
    Asked("open_helmet", "FRESH_AIR", "ALONE", "fans"),
    Asked("open_helmet_by_other", "FRESH_AIR", "ONLY_TENDER", "fans"),
    Asked("connect", "COOLING", "TENDER", "pump"),
    Asked("undress", "OUT", "TENDER", ""),
)


def with_proved_help(station: LoadedStation, suit: Suit) -> Suit:
    """The suit with the times that its kit and procedures give; itself where they give none.

    Args:
        station: With its kits and procedures.
        suit: Any of its suits.
    """
    kit = station.kits.get(suit.kit or "")
    sent_out = kit.sent_out_by if kit else None
    if sent_out is None or sent_out not in station.procedures:
        return suit
    from neckring.procedure.listing import listed

    found = dict(_times(listed(sent_out, station.procedures, station.kits)))
    if not found:
        return suit
    times = {
        key: parse_quantity(f"{way.duration.low:g}..{way.duration.high:g} s", "time")
        for key, way in found.items()
    }
    origins = {
        key: f"procedure {sent_out} and kit {suit.kit}: {', then '.join(way.acts)}"
        for key, way in found.items()
    }
    proved = ProvedHelp.model_construct(
        _fields_set={*suit.help_times.model_fields_set, *times, "origins"},
        **{**dict(suit.help_times), **times},
        origins=origins,
    )
    return suit.model_copy(update={"help": proved})


def _times(sent_out: Listed) -> Iterator[tuple[str, FastestWay]]:
    """The fastest ways from where the wearer is when sent out, a failure having struck."""
    from neckring.procedure.listing import end_of
    from neckring.procedure.model import State, after, holds
    from neckring.procedure.way_out import Company, Goal, WaysOut

    kit, start = sent_out.ground.kit, end_of(sent_out.procedure)

    def struck(failure: str) -> State | None:
        """The state after a failure; None when the kit has no such breakdown."""
        if not failure:
            return start
        state, happened = start, False
        for code, breakdown in kit.breakdowns.items():
            if breakdown.plan == failure:
                for on in sent_out.ground.wearers:
                    act = sent_out.ground.breakdown(code, breakdown, on)
                    if holds(act.guard, state):
                        state, happened = after(act, state), True
        return state if happened else None

    ways = WaysOut(sent_out.ground)
    for asked in ASKED:
        state = struck(asked.failure)
        if state is not None:
            (way,) = ways.fastest(Goal[asked.goal], Company[asked.company], [state])
            if way is not None and way.acts:
                yield asked.key, way
