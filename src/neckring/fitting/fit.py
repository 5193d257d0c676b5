"""A wearer held against suits: start here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from neckring.fitting.burden import Burden, burden, carried_by_wearer
from neckring.fitting.clearance import DOUBTFUL, Clearance, clearance
from neckring.fitting.findings import OUTCOMES, Kept, Outcome, Setting, SuitFit, WearerFit
from neckring.fitting.measures import Measure, measure_of
from neckring.fitting.places import RULES
from neckring.fitting.plausible import unlikely_measures
from neckring.fitting.population import Accepted, TooManySettingsError, accepted
from neckring.fitting.reach import reach_list
from neckring.fitting.settings import room_at, suggested
from neckring.station.fit import Fit
from neckring.station.fit import Settings as Written
from neckring.station.limits import LimitSheet
from neckring.station.site import Station
from neckring.station.suit import Suit
from neckring.station.wearer import Wearer
from neckring.suit.load import ADVISED_SHARE, GREATEST_SHARE


def fit_wearer(
    station: Station, sheet: LimitSheet, wearer: Wearer, suits: Iterable[Suit]
) -> WearerFit:
    """Hold a wearer against suits, the best suit first.

    Args:
        station: For its name and what one helper may lift.
        sheet: The signed limits.
        wearer: Who.
        suits: Which; those that say nothing of their fit are only named.
    """
    all_suits = list(suits)
    described = [suit for suit in all_suits if suit.fit]
    found = [fit_suit(wearer, suit, sheet, station.policy.lift_limit.nominal) for suit in described]
    return WearerFit(
        station=station.name,
        invented=station.invented,
        wearer=wearer.code,
        suits=tuple(sorted(found, key=rank)),
        undescribed=tuple(suit.code for suit in all_suits if not suit.fit),
        unlikely=tuple(unlikely_measures(wearer)),
        accepted={suit.code: accepted_by(suit) for suit in described},
    )


def rank(found: SuitFit) -> tuple[int, float, float]:
    """Where a suit stands among others: outcome, then chance, then load."""
    return OUTCOMES.index(found.outcome), -found.chance, found.burden.share


def accepted_by(suit: Suit) -> tuple[Accepted, ...]:
    """Shares of women and of men that a suit accepts.

    Returns:
        Women, men; empty when the suit says nothing of its fit or has too many settings to try.
    """
    if suit.fit is None:
        return ()
    guides = (ADVISED_SHARE, GREATEST_SHARE)
    carried = carried_by_wearer(suit)
    try:
        return tuple(accepted(suit.fit, carried, guides, sex) for sex in ("female", "male"))
    except TooManySettingsError:
        return ()


def fit_suit(wearer: Wearer, suit: Suit, sheet: LimitSheet, lift_limit: float) -> SuitFit:
    """Hold a wearer against one suit that describes its fit.

    Args:
        wearer: Who.
        suit: Which; its `fit` is there.
        sheet: The signed limits.
        lift_limit: What one helper may lift [kg].
    """
    assert suit.fit is not None
    fit = suit.fit
    asked = {name: measure_of(wearer, RULES[name].measure) for name in fit.named_places()}
    measures: dict[str, Measure] = {name: one for name, one in asked.items() if one}
    positions = suggested(fit, measures)
    clearances = _clearances(fit, measures, positions)
    kept = wearer.settings.get(suit.code)
    unmeasured = tuple(RULES[name].words for name, one in asked.items() if one is None)
    load = burden(wearer, suit, sheet, lift_limit)
    outcome, because = judged(clearances, unmeasured, load)
    chance = 1.0
    for one in clearances:
        chance *= 1.0 - one.barred
    return SuitFit(
        suit=suit.code,
        name=suit.name,
        torso=fit.torso,
        outcome=outcome,
        because=because,
        clearances=tuple(sorted(clearances, key=_worst_first)),
        unmeasured=unmeasured,
        settings=_settings(fit, positions, kept),
        kept=_kept(fit, measures, kept),
        burden=load,
        reach=reach_list(fit),
        chance=chance,
    )


def judged(
    clearances: Iterable[Clearance], unmeasured: Iterable[str], load: Burden
) -> tuple[Outcome, str]:
    """The outcome of a fit on paper, and why.

    A place that bars and surely does not fit decides alone; then a load that the signed sheet
    forbids; a place that may bar must be measured better or tried on with care; only then do
    places that hurt count.
    """
    by_worst = sorted(clearances, key=_worst_first)
    barred = [c for c in by_worst if c.barred >= DOUBTFUL]
    unsure = [c for c in by_worst if c.barred > 1.0 - DOUBTFUL]
    hurting = [c for c in by_worst if c.verdict == "does not fit"]
    if barred:
        return "does not fit", _why(barred[0])
    if load.stopped:
        share = f"{load.share:.0%} of body mass is carried"
        return "too heavy", f"{share}, more than the signed sheet allows"
    if unsure:
        return "measure first", f"it may be that {_why(unsure[0])}"
    missing = list(unmeasured)
    if missing:
        return "measure first", f"nothing is known of {missing[0]}"
    if hurting:
        return "sore", _why(hurting[0])
    return "try it on", "no place is known to bar the wearer or to hurt"


def _why(found: Clearance) -> str:
    return f"{found.consequence} ({RULES[found.place].words})"


def _worst_first(found: Clearance) -> tuple[int, float]:
    """Places that may bar, then those that may hurt; each by how likely that is."""
    return (0, -found.barred) if found.barred > 1.0 - DOUBTFUL else (1, found.chance)


def _clearances(
    fit: Fit, measures: Mapping[str, Measure], positions: Mapping[str, int]
) -> list[Clearance]:
    layers = fit.layers.nominal
    return [
        clearance(name, place, measures[name], room_at(fit, name, positions), layers)
        for name, place in fit.named_places().items()
        if name in measures
    ]


def _settings(fit: Fit, positions: Mapping[str, int], kept: Written | None) -> tuple[Setting, ...]:
    def of(name: str) -> float | None:
        written = kept.positions.get(name) if kept else None
        return written.nominal if written else None

    return tuple(
        Setting(
            adjuster=name,
            words=one.words,
            kind=one.kind,
            position=positions[name],
            last=one.last,
            value=one.setting(positions[name]),
            kept=of(name),
        )
        for name, one in fit.adjusters.items()
    )


def _kept(fit: Fit, measures: Mapping[str, Measure], kept: Written | None) -> Kept | None:
    if kept is None:
        return None
    positions = {
        name: number
        for name, one in fit.adjusters.items()
        if name in kept.positions
        and (number := one.position(kept.positions[name].nominal)) is not None
    }
    complete = set(positions) == set(fit.adjusters)
    clearances = tuple(_clearances(fit, measures, positions)) if complete else ()
    return Kept(kept.noted, kept.by, kept.note or "", complete, clearances)
