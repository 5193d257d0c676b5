"""The present alarms: one for each cause, none hidden, none that chatters. Pure.

`judged(board, facts)` looks once and gives the board after it; `changes(before, after)` gives the
deeds that the desk records. A board is a value: the same looks give the same boards.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from neckring.live.alarm import Alarm, Rank
from neckring.live.alarm_causes import Explained, Key
from neckring.live.alarm_conditions import conditions
from neckring.live.alarm_facts import Facts
from neckring.live.alarm_holding import Condition, Holds, listed, yes
from neckring.live.alarm_list import LISTED, PLACE
from neckring.live.alarm_list_instruments import FLAW_CODES
from neckring.live.alarm_memory import Kept, stepped
from neckring.live.alarm_standing import Standing
from neckring.live.alarm_trend import Trend, co2_condition, grown
from neckring.live.bodies import LONGEST_WORDS
from neckring.live.entries import Body, Deed, Json, Kind, Role
from neckring.station.fault import visible

Identity = tuple[str, str, str, str]
# So many channels that are not good at once are one alarm, until at most so few are left; practice.
MANY, FEW = 4, 1
RESUMED = "resumed"
# So many signs of one cause are written into an entry [1]; the page shows all.
MOST_ALSO = 20
NOTHING: Mapping[Identity, Kept] = MappingProxyType({})
NO_TRENDS: Mapping[str, Trend] = MappingProxyType({})


@dataclass(frozen=True)
class Raised:
    """One alarm with what it is made of.

    Attributes:
        alarm: As people see it.
        present: Identities of all conditions that it names.
        grave: Causes among them that ask to act at once.
    """

    alarm: Alarm
    present: frozenset[Identity]
    grave: frozenset[Key]


@dataclass(frozen=True)
class Board:
    """The alarms at one instant, and what is remembered for the next.

    Attributes:
        run_time: Of the last look [s].
        kept: Every condition that is not at rest.
        trends: Of carbon dioxide, by wearer.
        raised: The present alarms, the most urgent first.
    """

    run_time: float = 0.0
    kept: Mapping[Identity, Kept] = field(default_factory=lambda: NOTHING)
    trends: Mapping[str, Trend] = field(default_factory=lambda: NO_TRENDS)
    raised: tuple[Raised, ...] = ()

    @property
    def alarms(self) -> tuple[Alarm, ...]:
        """The present alarms, the most urgent first."""
        return tuple(raised.alarm for raised in self.raised)


def judged(board: Board, facts: Facts) -> Board:
    """Look once.

    Args:
        board: After the look before.
        facts: What is known now.

    Returns:
        The board now. A run time before that of the last look counts as that one.
    """
    now = max(board.run_time, facts.run_time)
    trends = grown(board.trends, facts)
    looked = list(conditions(replace(facts, run_time=now)))
    looked += [
        co2_condition(trends[wearer.letter], facts.sheet, wearer) for wearer in facts.wearers
    ]
    kept = _remembered(board.kept, looked, now)
    kept = _remembered(kept, list(_of_many(kept, facts)), now, derived=True)
    return Board(now, MappingProxyType(kept), MappingProxyType(trends), _raised(kept))


def present_alarms(board: Board, facts: Facts) -> tuple[Alarm, ...]:
    """The alarms of one look, the most urgent first."""
    return judged(board, facts).alarms


# Through time

_DERIVED = ("sensors-many", "source-gone", "network-lost")


def _remembered(
    kept: Mapping[Identity, Kept], looked: list[Condition], now: float, derived: bool = False
) -> dict[Identity, Kept]:
    """Every condition one look later; one that is no longer told of does not hold any more."""
    after = {}
    told = {condition.identity: condition for condition in looked}
    for identity, before in kept.items():
        if (identity[0] in _DERIVED) is not derived:
            after[identity] = before
        elif identity not in told:
            gone = replace(before.condition, holds=_resumed(identity, looked))
            after[identity] = stepped(before, gone, now)
    for identity, condition in told.items():
        after[identity] = stepped(kept.get(identity), condition, now)
    counting = {identity[:3] for identity, one in after.items() if one.counts and not_resumed(one)}
    return {
        identity: one
        for identity, one in after.items()
        if not _at_rest(one) and (not_resumed(one) or identity[:3] not in counting)
    }


def not_resumed(kept: Kept) -> bool:
    """Whether it was seen since the console came up; what was not gives way to what was."""
    return kept.condition.stage != RESUMED


def _resumed(identity: Identity, looked: list[Condition]) -> Holds:
    """What holds of an alarm taken over from before a restart: whatever now holds of its cause."""
    if identity[3] != RESUMED:
        return Holds.NO
    same = [condition.holds for condition in looked if condition.key == identity[:3]]
    if not same or all(holds is Holds.NO for holds in same):
        return Holds.NO
    return Holds.NEAR


def _at_rest(kept: Kept) -> bool:
    return not kept.counts and kept.since is None and not kept.began


def _of_many(kept: Mapping[Identity, Kept], facts: Facts) -> Iterator[Condition]:
    """What follows from many conditions at once: sources and tablets that are gone."""
    counting = [one.condition for one in kept.values() if one.counts]
    for wearer in facts.wearers:
        flawed = {
            condition.subject: condition.code
            for condition in counting
            if condition.wearer == wearer.letter and condition.code in FLAW_CODES.values()
        }
        holds = yes(len(flawed) >= MANY)
        if FEW < len(flawed) < MANY:
            holds = Holds.NEAR
        words = f"{len(flawed)} channels are not good at once"
        yield listed("sensors-many", holds, words, wearer.letter)
        stale = {
            condition.subject
            for condition in counting
            if condition.wearer == wearer.letter and condition.code == "sensor-stale"
        }
        for source in sorted({channel.source for channel in wearer.channels}):
            names = {c.name for c in wearer.channels if c.source == source}
            gone = len(names) > 1 and names <= stale
            words = f"Nothing comes from {source}"
            yield listed("source-gone", yes(gone), words, wearer.letter, source, source)
    silent = {c.subject for c in counting if c.code == "tablet-silent"}
    lost = len(facts.desk.tablets) > 1 and set(facts.desk.tablets) <= silent
    yield listed("network-lost", yes(lost), "No tablet has been heard from")


# One cause, one alarm


def _raised(kept: Mapping[Identity, Kept]) -> tuple[Raised, ...]:
    counting = {identity: one for identity, one in kept.items() if one.counts}
    sensed = {
        one.condition.key: (one.condition.source, one.condition.quantity)
        for one in counting.values()
    }
    explained = Explained(sensed)
    roots = {key: explained.root(key) for key in sensed}
    groups: dict[str, list[Kept]] = {}
    for one in counting.values():
        groups.setdefault(alarm_key(roots[one.condition.key]), []).append(one)
    made = [
        _one_alarm(key, members, {roots[one.condition.key] for one in members})
        for key, members in groups.items()
    ]
    return tuple(sorted(made, key=_order))


def alarm_key(root: Key) -> str:
    """Of the alarm that a cause raises: its family, wearer and subject."""
    code, wearer, subject = root
    return f"{LISTED[code].family}/{wearer}/{subject}"


def _urgency(one: Kept, roots: Iterable[Key]) -> tuple[int, int, int, str]:
    """The cause itself first, then the graver, then as listed."""
    condition = one.condition
    is_root = condition.key in roots
    return (not is_root, -condition.rank, PLACE[condition.code], f"{condition.identity}")


def _one_alarm(key: str, members: list[Kept], roots: set[Key]) -> Raised:
    """The alarm of one cause; whatever is graver than the cause stands beside it in the words."""
    ordered = sorted(members, key=lambda one: _urgency(one, roots))
    lead = ordered[0].condition
    gravest = max((one.condition for one in ordered), key=lambda condition: condition.rank)
    words, first_action, told = _told(ordered[0]), LISTED[lead.code].first_action, {lead.identity}
    if gravest.rank > lead.rank:
        grave = next(one for one in ordered if one.condition is gravest)
        words = f"{words}. {_told(grave)}"
        first_action = f"{LISTED[gravest.code].first_action} {first_action}"
        told.add(gravest.identity)
    also = tuple(_told(one) for one in ordered if one.condition.identity not in told)
    alarm = Alarm(
        key,
        gravest.rank,
        lead.code,
        lead.wearer,
        words,
        first_action,
        tuple(dict.fromkeys(also)),
    )
    present = frozenset(one.condition.identity for one in ordered)
    grave_ones = frozenset(
        one.condition.key for one in ordered if one.condition.rank is Rank.ACT_AT_ONCE
    )
    return Raised(alarm, present, grave_ones)


def _told(one: Kept) -> str:
    return f"{one.condition.words} (comes and goes)" if one.unsteady else one.condition.words


def _order(raised: Raised) -> tuple[int, int, str, str]:
    alarm = raised.alarm
    return (-alarm.rank, PLACE[alarm.cause], alarm.wearer, alarm.key)


# What is recorded


def changes(before: Board, after: Board, name: str) -> tuple[Deed, ...]:
    """What the desk records of two boards: first what ended, then what was raised.

    An alarm that gets worse, by its rank or by something more in it that asks to act at once, is
    recorded as ended and raised again: it then sounds again, whoever had acknowledged it.

    Args:
        before: The board of the look before.
        after: The board now.
        name: Of the run; part of the keys, so that the same change is recorded once.
    """
    earlier = {raised.alarm.key: raised for raised in before.raised}
    now = {raised.alarm.key: raised for raised in after.raised}
    worse = {key for key, one in now.items() if key in earlier and _worse(earlier[key], one)}
    ended = [key for key in earlier if key not in now or key in worse]
    raised = [one for key, one in now.items() if key not in earlier or key in worse]
    deeds = [_deed(Kind.ALARM_ENDED, key, after.run_time, name, {}) for key in ended]
    deeds += [_raised_deed(one, after.run_time, name) for one in raised]
    return tuple(deeds)


def _worse(before: Raised, now: Raised) -> bool:
    return now.alarm.rank > before.alarm.rank or bool(now.grave - before.grave)


def _raised_deed(raised: Raised, run_time: float, name: str) -> Deed:
    alarm = raised.alarm
    also: list[Json] = [_short(words) for words in alarm.also[:MOST_ALSO]]
    if len(alarm.also) > MOST_ALSO:
        also.append(f"and {len(alarm.also) - MOST_ALSO} more")
    body: Body = {
        "rank": int(alarm.rank),
        "cause": alarm.cause,
        "wearer": alarm.wearer,
        "words": _short(alarm.words),
        "first_action": _short(alarm.first_action),
        "also": also,
    }
    return _deed(Kind.ALARM_RAISED, alarm.key, run_time, name, body)


def _short(words: str) -> str:
    """Words as an entry can hold them."""
    plain = visible(words)
    return plain if len(plain) <= LONGEST_WORDS else f"{plain[: LONGEST_WORDS - 1]}…"


def _deed(kind: Kind, alarm: str, run_time: float, name: str, body: Body) -> Deed:
    told = f"{name} {kind.value} {alarm} {run_time!r}"
    key = f"alarm:{hashlib.sha256(told.encode()).hexdigest()[:40]}"
    return Deed(key, kind, "desk", Role.DESK, "desk", {"alarm": alarm, **body})


def resumed(standing: Iterable[Standing], run_time: float) -> Board:
    """The board of a console that came back: what stood before stands until it is known to be gone.

    Args:
        standing: Alarms of the log book that have not ended.
        run_time: Now [s].
    """
    kept: dict[Identity, Kept] = {}
    for one in standing:
        if one.cause not in LISTED or one.ended is not None:
            continue
        subject = one.key.split("/", 2)[2]
        condition = Condition(
            one.cause, one.wearer, subject, one.rank, one.words, Holds.NEAR, stage=RESUMED
        )
        kept[condition.identity] = Kept(condition, counts=True, began=(one.raised,))
    return Board(run_time, MappingProxyType(kept), NO_TRENDS, _raised(kept))
