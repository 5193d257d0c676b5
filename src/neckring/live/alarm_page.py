"""The written list of alarms as a page: docs/alarms.md is this text."""

from __future__ import annotations

from collections.abc import Iterator

from neckring.live.alarm_causes import EXPLAINS
from neckring.live.alarm_limits import OUT_OF_RANGE_HOLDS
from neckring.live.alarm_list import ALARMS, LISTED
from neckring.live.alarm_list_limits import RANK_OF_ACTION
from neckring.live.alarm_memory import QUIET, TIMES, WINDOW
from neckring.live.listed_alarm import Listed

BEGINS = """# Every alarm, its cause and the first action

Made from `live/alarm_list.py`; do not edit. To make it anew:
`.venv/bin/python -m neckring.live.alarm_page > docs/alarms.md`

An alarm says what is wrong and what to do first, in words; its rank is a word before it is a
colour. **No limit is set here**: values come from the signed limit sheet, the suit's file and the
station's policy. Where the last column says *practice* the choice is our own and unpublished.
Nothing outside this list raises an alarm.

## How alarms behave

- **Three ranks**: {ranks}. A crossed limit has the rank of its action on the sheet: {actions}.
- **One cause, one alarm.** What one cause shows besides is named in the same alarm under *also*
  (the tree at the end); if it is graver than the cause, it stands in the alarm's own words, gives
  its rank, and its first action comes first. Nothing that is present is left out.
- **No chatter.** An alarm is raised once its cause has held for the time in column *after*, and
  ends once it has been gone for the time in column *gone for*; between what raises and what ends it
  lies a dead band. What came {times} times within {window:.0f} min says *comes and goes* and then
  stays for {quiet:.0f} quiet minutes.
- **Acknowledged** alarms stay in sight and are quiet; who acknowledged is shown. One that gets
  worse sounds again: a higher rank, or something more in it that asks to act at once.
- **A lost sensor ends no alarm** of what it measured, and raises none but its own; nor does the
  estimate end it while the last reading, old or flawed, lies beyond the limit.
- **Out of range is never safe.** A reading beyond all that its sensor is believed, on the side on
  which a limit is signed, counts as beyond that limit after {range:.0f} s, at its rank, as long
  as no other sensor of the same thing reads well: *treat as high*. Of gases so too where another
  unit would explain it. Any other flawed reading crosses no limit; if it would, its alarm says so.
- **Order**: rank, then the order of this list, then wearer. It does not change as values change.
- After a restart of the console what stood before stands until it is known to be gone.

Sources of these rules: 14 CFR 25.1322 (a)(1), (a)(3), (c)(1) and (c)(3), read as reproduced in the
human-factors guidance of the US Department of Transportation (an alert says what is wrong and what
to do, is removed when its condition is gone, is put in order within its rank, may be acknowledged
and silenced); OPC UA part 9 version 1.05, annex B.1.5, read (delay before, delay after, dead band).
From memory, not read: three priorities as in IEC 60601-1-8; against floods EEMUA 191 and ISA-18.2.
The times are our own.
"""


def page() -> str:
    """The whole page."""
    ranks = ", ".join(f"**{rank.words}**" for rank in sorted(RANK_OF_ACTION.values(), reverse=True))
    actions = ", ".join(f"{action}: {rank.words}" for action, rank in RANK_OF_ACTION.items())
    begins = BEGINS.format(
        ranks=ranks,
        actions=actions,
        times=TIMES,
        window=WINDOW / 60.0,
        quiet=QUIET / 60.0,
        range=OUT_OF_RANGE_HOLDS,
    )
    return "\n".join([begins, *_list(), "", *_tree(), ""])


def _list() -> Iterator[str]:
    yield "## The list\n"
    yield "| code | rank | raised when | after | first action | ends when | gone for | source |"
    yield "|---|---|---|---|---|---|---|---|"
    for listed in ALARMS:
        yield _row(listed)


def _row(listed: Listed) -> str:
    rank = listed.rank.words if listed.rank is not None else "by the limit's action"
    after = "the limit's own time" if listed.rank is None else f"{listed.waits:.0f} s"
    cells = (
        f"`{listed.code}`",
        rank,
        listed.means,
        after,
        listed.first_action,
        listed.clears,
        f"{listed.lingers:.0f} s",
        listed.source,
    )
    return f"| {' | '.join(cells)} |"


def _tree() -> Iterator[str]:
    yield "## What explains what\n"
    yield "The cause on the left, when it is present, names these in its own alarm. `air-lost` and"
    yield "`water-lost` name strange readings only of what they move: gases, the loop's water;"
    yield "a limit's alarm only those of what it limits.\n"
    yield "| cause | names |"
    yield "|---|---|"
    for cause, shown in EXPLAINS.items():
        assert cause in LISTED
        yield f"| `{cause}` | {', '.join(f'`{code}`' for code in shown)} |"


if __name__ == "__main__":
    print(page(), end="")
