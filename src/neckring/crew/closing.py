"""The state of a run's close-out: what is filled in, what it comes to, what is still open."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from neckring.crew.deadline import Deadline, deadline, left_until
from neckring.crew.feeling_scales import SYMPTOMS
from neckring.crew.forms import GROUPS, CloseOutForm, NearMiss, VitalsAt
from neckring.crew.health_gate import GateFinding, Reading, pass_gate
from neckring.crew.mass_balance import MassBalance, Weighed, mass_balance
from neckring.crew.recovery import Recovery, recovery_pattern
from neckring.crew.strain_index import strain_index
from neckring.crew.task_load import raw
from neckring.station.limits import LimitSheet
from neckring.station.panels import PanelSheet
from neckring.station.people import PeopleSheet

NEEDED = ("task_load", "feelings", "symptoms", "body_map", "masses", "release")
"""Without these a close-out is not complete; the others are there when they are there."""


@dataclass(frozen=True)
class Due:
    """A report that a panel wants.

    Attributes:
        words: What happened.
        panel: Code.
        panel_words: What the panel is called; "unknown panel" where no file tells.
        deadline: None where no rule is known.
        left: Until then [s]; negative when it is over.
        reported_on: The day on which it was told; None for not yet.
        late: Told after the deadline, or not told and over.
    """

    words: str
    panel: str
    panel_words: str
    deadline: Deadline | None
    left: float | None
    reported_on: datetime.date | None
    late: bool


@dataclass(frozen=True)
class CloseOut:
    """The close-out of one run.

    Attributes:
        run: Code.
        wearer: Code.
        latest: Group to the form which holds its last version.
        missing: Groups still to fill in.
        entry: What the signed entry gate says of the morning's readings; None without either.
        release: What the signed release gate says; None without a signed gate or readings.
        overridden: The medic's own decision in words; "" for none.
        task_load: Plain mean of the six ratings; None when not filled in.
        balance: None when nothing was weighed.
        limits_crossed: Signed limits that the lost water crosses, in words.
        strain: Strain index; None without a core temperature.
        recovery: How the heart came down.
        dues: Reports to panels.
    """

    run: str
    wearer: str
    latest: Mapping[str, CloseOutForm]
    missing: tuple[str, ...]
    entry: GateFinding | None
    release: GateFinding | None
    overridden: str
    task_load: float | None
    balance: MassBalance | None
    limits_crossed: tuple[str, ...]
    strain: float | None
    recovery: Recovery | None
    dues: tuple[Due, ...]

    @property
    def held_by(self) -> tuple[str, ...]:
        """What holds a wearer back though the gate is open, until the medic decides."""
        form = self.latest.get("symptoms")
        told = form.symptoms if form is not None and form.symptoms else {}
        felt = tuple(f"symptom: {SYMPTOMS[code]}" for code, much in told.items() if much)
        return (*felt, *self.limits_crossed)

    @property
    def released(self) -> bool:
        """Whether the wearer is released: by the medic's word, else by the signed gate alone.

        A symptom of the run, or a signed limit of lost water that is crossed, leaves it to the
        medic's word.
        """
        if self.overridden:
            return self.overridden.startswith("release")
        is_open = self.release is not None and self.release.outcome == "open"
        return is_open and not self.held_by

    @property
    def complete(self) -> bool:
        """Whether nothing is open any more."""
        told = all(due.reported_on is not None for due in self.dues)
        return not self.missing and self.released and told


@dataclass(frozen=True)
class Ground:
    """What a close-out is judged by.

    Attributes:
        limits: The signed sheet.
        age: Of the wearer [years].
        people: None where the station has no people.yaml.
        panels: None where the station has no panels.yaml.
        now: With the station's time zone.
    """

    limits: LimitSheet
    age: float
    people: PeopleSheet | None
    panels: PanelSheet | None
    now: datetime.datetime


def close_out(run: str, wearer: str, forms: Sequence[CloseOutForm], ground: Ground) -> CloseOut:
    """Put a run's forms together.

    Args:
        run: Code.
        wearer: Code.
        forms: All that were filled in, the oldest first; of each group the last one counts, but
            near misses add up.
        ground: What it is judged by.
    """
    latest = {group: form for group in GROUPS for form in forms if group in form.groups}
    balance = _balance(latest)
    return CloseOut(
        run=run,
        wearer=wearer,
        latest=latest,
        missing=tuple(group for group in NEEDED if group not in latest),
        entry=_gate("before", latest, wearer, ground),
        release=_gate("release", latest, wearer, ground),
        overridden=_override(latest),
        task_load=_task_load(latest),
        balance=balance,
        limits_crossed=_crossed(balance, ground),
        strain=_strain(latest),
        recovery=_recovery(latest),
        dues=_dues(forms, ground),
    )


def _task_load(latest: Mapping[str, CloseOutForm]) -> float | None:
    load = latest["task_load"].task_load if "task_load" in latest else None
    return None if load is None else raw(load.ratings)


def _balance(latest: Mapping[str, CloseOutForm]) -> MassBalance | None:
    masses = latest["masses"].masses if "masses" in latest else None
    if masses is None:
        return None
    return mass_balance(
        Weighed(
            masses.nude_before,
            masses.nude_after,
            masses.drunk,
            masses.passed,
            masses.garment_before,
            masses.garment_after,
        )
    )


def _crossed(balance: MassBalance | None, ground: Ground) -> tuple[str, ...]:
    if balance is None:
        return ()
    share = balance.lost_share.value
    return tuple(
        f"water lost {100 * share:.1f} % of body mass; signed: {limit.action} {limit.stop_if} "
        f"{limit.value.text}"
        for limit in ground.limits.limits
        if limit.quantity == "body_water_loss" and limit.crossed_by(share, ground.age)
    )


def _strain(latest: Mapping[str, CloseOutForm]) -> float | None:
    strain = latest["strain"].strain if "strain" in latest else None
    if strain is None or strain.core_before is None or strain.core_highest is None:
        return None
    return strain_index(
        strain.core_highest.nominal,
        strain.core_before.nominal,
        strain.heart_highest.nominal,
        strain.heart_before.nominal,
    )


def _recovery(latest: Mapping[str, CloseOutForm]) -> Recovery | None:
    rates = latest["recovery"].recovery if "recovery" in latest else None
    return None if rates is None else recovery_pattern(rates.first.nominal, rates.third.nominal)


def _override(latest: Mapping[str, CloseOutForm]) -> str:
    release = latest["release"].release if "release" in latest else None
    if release is None or release.override is None:
        return ""
    own = release.override
    return f"{own.decides}, by {own.by}: {own.reason}"


def _gate(
    group: str, latest: Mapping[str, CloseOutForm], wearer: str, ground: Ground
) -> GateFinding | None:
    form = latest.get(group)
    sheet = None if form is None else form.before if group == "before" else form.release
    people = ground.people
    gates = people.gates if people else None
    gate = (gates.entry if group == "before" else gates.release) if gates else None
    if sheet is None or gate is None:
        return None
    person = people.people.get(wearer) if people else None
    return pass_gate(
        gate,
        readings_of(sheet.readings),
        # After work everybody is off their own baseline: it is a card of rest.
        person.card if person and group == "before" else (),
        sheet.answers,
        rest_first=group == "release",
    )


def readings_of(readings: Sequence[VitalsAt]) -> tuple[Reading, ...]:
    """Readings with times in seconds since midnight."""
    return tuple(
        Reading(60.0 * (60 * each.at.hour + each.at.minute), each.measured) for each in readings
    )


def near_misses_of(forms: Sequence[CloseOutForm]) -> tuple[NearMiss, ...]:
    """Every near miss of any form; told of again, the last telling counts."""
    found: dict[tuple[datetime.date, datetime.time, str], NearMiss] = {}
    for form in forms:
        for miss in form.near_misses or ():
            found[miss.happened_on, miss.happened_at, miss.words] = miss
    return tuple(found.values())


def _dues(forms: Sequence[CloseOutForm], ground: Ground) -> tuple[Due, ...]:
    return tuple(
        _due(miss, panel, ground) for miss in near_misses_of(forms) for panel in miss.panels
    )


def _due(miss: NearMiss, code: str, ground: Ground) -> Due:
    panel = ground.panels.panels.get(code) if ground.panels else None
    told = miss.reported.get(code)
    if panel is None or ground.panels is None:
        return Due(miss.words, code, "unknown panel", None, None, told, False)
    zone = ground.now.tzinfo
    known = datetime.datetime.combine(miss.known_on, miss.known_at, zone)
    ends = deadline(known, panel.within, ground.panels.closed_on)
    left = left_until(ends.due, ground.now)
    late = told > ends.due.date() if told is not None else left < 0.0
    return Due(miss.words, code, panel.words, ends, left, told, late)
