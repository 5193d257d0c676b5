"""A fit in words: lengths as people read them, what each finding means, and the cautions."""

from __future__ import annotations

import math

from neckring.fitting.burden import Burden
from neckring.fitting.clearance import Clearance
from neckring.fitting.findings import Kept, Setting, SuitFit
from neckring.fitting.places import RULES
from neckring.fitting.plausible import Unlikely
from neckring.fitting.population import PEOPLE, Accepted
from neckring.suit.load import ADVISED_SHARE, GREATEST_SHARE
from neckring.units import format_quantity

CAUTIONS = (
    "A fit on paper is no fit: try the suit on, closed, with a fitter beside the wearer, and go "
    "through the reach list before any run.",
    "The wearer's word counts for more than any figure: pain, numbness or short breath ends the "
    "trial.",
    "Try the way out of the suit, and the way through the hatch, before the helmet is locked.",
    "Measures go out of date: measure again after a change of body mass of 3 kg (our own figure).",
)
"""What every fit carries beside the cautions of all pages."""

SURVEY_WORDS = (
    "The survey is of US soldiers, measured bare in 2012. Civilians are on average heavier, older "
    "and more varied: take these shares as a comparison of suits, not as a count of people."
)
ASSUMED_TIES = (
    "How measures go together is published for stature, mass, chest, bideltoid and hip breadth; "
    "the rest is tied to stature and mass alone, partly by assumption. However places that share "
    "no adjuster go together, the share without a bar lies within the bounds shown."
)
NOT_COUNTED = (
    "How many people it accepts is not computed: some of its adjusters, which act on the same "
    "places, have more settings together than are tried. Coarser steps would help."
)
VERDICT_MARKS = {"fits": "fits", "in doubt": "in doubt", "does not fit": "DOES NOT FIT"}
ENDLESS = "any"


def millimetres(value: float) -> str:
    """A length [m] in whole millimetres, or "any" when there is no bound."""
    return f"{1e3 * value:+.0f}".replace("+0", "0") if math.isfinite(value) else ENDLESS


def clearance_words(found: Clearance) -> str:
    """Likely clearance with its band, as in "+20 (+9 to +31) mm"."""
    low, likely, high = (millimetres(v) for v in (found.low, found.likely, found.high))
    return f"{likely} ({low} to {high}) mm"


def wanted_words(found: Clearance) -> str:
    """What must be left, as in "0 to +40 mm"."""
    if not math.isfinite(found.most):
        return f"{millimetres(found.least)} mm or more"
    return f"{millimetres(found.least)} to {millimetres(found.most)} mm"


def place_words(found: Clearance) -> str:
    """The place as people call it."""
    return RULES[found.place].words


def measure_words(found: Clearance) -> str:
    """The measure and where it comes from, as in "368 mm, measured"."""
    return f"{1e3 * found.measure.value:.0f} mm, {found.measure.status}"


def risk_words(found: Clearance) -> str:
    """What follows when the place does not fit; empty when it fits."""
    if found.verdict == "fits":
        return ""
    worst = "bars the wearer" if found.harm == "bars" else "hurts"
    return f"too {found.side}, {worst}: {found.consequence}"


def setting_words(setting: Setting) -> str:
    """Where to begin, as in "40 mm, position 2 of 0 to 8"."""
    shown = format_quantity(setting.value, "length", "mm")
    return f"{shown}, position {setting.position} of 0 to {setting.last}"


def kept_words(kept: Kept) -> str:
    """When settings were kept, by whom, and what was said."""
    note = f": {kept.note}" if kept.note else ""
    part = "" if kept.complete else " (not of every adjuster)"
    return f"kept on {kept.noted.isoformat()} by {kept.by}{part}{note}"


def load_sentences(load: Burden) -> list[str]:
    """The load in words."""
    lean = math.degrees(load.lean)
    pressure = load.strap_pressure
    sentences = [
        f"{load.carried:.1f} kg is carried, {load.share:.0%} of body mass. Guide for marching "
        f"soldiers: {load.remark.words} [{load.remark.source}].",
        f"The common centre of gravity moves {1e3 * load.shift:.0f} mm back; a lean of {lean:.1f} "
        "degrees forward brings it over the feet again.",
        f"Peak pressure under a shoulder strap, standing: {float(pressure.low) / 1e3:.0f} to "
        f"{float(pressure.high) / 1e3:.0f} kPa; skin blood flow begins to stop at about 4 kPa "
        "(Holewijn 1990).",
    ]
    sentences += [
        f"Signed sheet: {limit.action} at {limit.value:.0%}; "
        f"{'crossed by the suit alone' if limit.crossed else 'not crossed by the suit alone'}."
        for limit in load.limits
    ]
    return [*sentences, *lift_sentences(load)]


def lift_sentences(load: Burden) -> list[str]:
    """What it takes to lift pack and wearer."""
    source = (
        f"each may lift {load.lift_limit:.1f} kg; two together 2/3, three 1/2 of their sum "
        "[HSE, Manual Handling Operations Regulations 1992, guidance]"
    )
    pack = _hands(load.pack_hands)
    whole = (
        "no team of three may lift it plainly: take pack and torso off, roll, slide or hoist"
        if load.hands is None
        else f"{_hands(load.hands)} may lift it"
    )
    return [
        f"Filled pack, {load.pack:.1f} kg: {pack} to lift it onto the wearer; {source}.",
        f"Wearer and suit, {load.whole:.0f} kg: {whole}.",
    ]


def _hands(count: int | None) -> str:
    if count is None:
        return "more than three people, so a hoist,"
    return "one person" if count == 1 else f"{count} people"


def accepted_words(found: Accepted) -> str:
    """Share of one sex that a suit accepts, in one sentence."""
    who = "women" if found.sex == "female" else "men"
    return (
        f"{found.bars:.0%} of {who} meet no bar, {found.whole:.0%} no sore place either, "
        f"{found.light:.0%} would also carry no more than {ADVISED_SHARE:.0%} of body mass, "
        f"{found.carries:.0%} no more than {GREATEST_SHARE:.0%} (bounds of the first: "
        f"{found.fewest:.0%} and {found.most:.0%})"
    )


def narrowest(found: Accepted) -> str:
    """The place that turns most people away."""
    place = min(found.places, key=lambda name: found.places[name])
    return f"{RULES[place].words}, which {found.places[place]:.0%} pass"


def unlikely_words(found: Unlikely) -> str:
    """A measure that does not go with the others, and what it may have been."""
    unit = "mass" if found.keys[-1] == "mass" else "length"
    read, likely = (format_quantity(v, unit) for v in (found.value, found.likely))
    meant = f'; did you mean "{found.meant}"?' if found.meant else ""
    return (
        f"{'.'.join(found.keys)}: read {read}, though such people mostly have about {likely} "
        f"({abs(found.deviations):.0f} deviations off): measure again, check the unit{meant}"
    )


def drawn_words() -> str:
    """How the shares were computed."""
    return (
        f"{PEOPLE} women and as many men drawn from the survey's percentiles and correlations; "
        "each with the settings that suit them best."
    )


def to_paste(found: SuitFit, day: str = "YEAR-MONTH-DAY", by: str = "CODE") -> str:
    """The suggested settings as lines for the wearer's file."""
    positions = ", ".join(
        f"{one.adjuster}: {format_quantity(one.value, 'length', 'mm')}" for one in found.settings
    )
    kept = f"    positions: {{{positions}}}\n    noted: {day}\n    by: {by}"
    return f"settings:\n  {found.suit}:\n{kept}"
