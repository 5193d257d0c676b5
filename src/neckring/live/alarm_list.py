"""The closed list of alarms: cause, rank, words, first action, what clears each, and its source.

Nothing raises an alarm that is not in `ALARMS`; docs/alarms.md is made from it. No limit is written
here: the values come from the signed sheet, the suit's file and the station's policy. What is of
our own choosing says "practice". The entries stand in `alarm_list_people`, `alarm_list_limits` and
`alarm_list_instruments`.

Source: 14 CFR 25.1322 (a)(1), (a)(3), (c)(1), (c)(3): an alert says what is wrong and what to do,
is removed when its condition is gone, is ordered within its rank, and may be acknowledged.
"""

from __future__ import annotations

from neckring.live.alarm_list_instruments import INSTRUMENTS
from neckring.live.alarm_list_people import PEOPLE_AND_KIT
from neckring.live.listed_alarm import Listed

ALARMS: tuple[Listed, ...] = (*PEOPLE_AND_KIT, *INSTRUMENTS)
"""Every alarm, the more urgent first; within a rank in this order."""

LISTED = {listed.code: listed for listed in ALARMS}
PLACE = {listed.code: place for place, listed in enumerate(ALARMS)}
