"""From slips to orders of magnitude."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.procedure.fitting_rows import (
    Circumstances,
    Labelling,
    ListUse,
    Slip,
    SlipKind,
    Thing,
    failures_in_a_row,
    together,
)
from neckring.procedure.human_error import JOINT_FLOOR, Dependence, Stress
from neckring.procedure.model import Model, Variable
from neckring.procedure.risk import Estimate, Way, judged, overall, ranked
from neckring.procedure.steps import CheckKind, Procedure, Step, StepKind

KIT = Model("invented", (Variable("valve", ("shut", "open")),), ())

DRESSER, WEARER = 0, 1

AS_PUBLISHED = Circumstances(least_error_factor=1.0)


def procedure_of(*steps):
    numbered = tuple(replace(step, number=place) for place, step in enumerate(steps, start=1))
    return Procedure(KIT, (), ("dresser", "wearer"), numbered)


def move(lane=DRESSER):
    return Step(0, lane, StepKind.MOVE, "open the valve")


def check(kind, lane):
    return Step(0, lane, StepKind.CHECK, "see it open", check=kind)


# One move, then every kind of check by both people.
CHECKED = procedure_of(
    move(), *(check(kind, lane) for kind in CheckKind for lane in (DRESSER, WEARER))
)
PLACES = {(CHECKED.steps[i].check, CHECKED.steps[i].lane): i for i in range(1, 11)}
OMITTED = Slip(SlipKind.OMITTED, 0)


@pytest.mark.parametrize(
    ("steps", "use", "table", "median"),
    [
        (10, ListUse.TICKED, "20-7 (1)", 0.001),
        (11, ListUse.TICKED, "20-7 (2)", 0.003),
        (10, ListUse.NOT_TICKED, "20-7 (3)", 0.003),
        (11, ListUse.NOT_TICKED, "20-7 (4)", 0.01),
        (10, ListUse.NOT_USED, "20-7 (5)", 0.05),
        (99, ListUse.NOT_USED, "20-7 (5)", 0.05),
    ],
)
def test_list_decides_how_often_a_step_is_left_out(steps, use, table, median):
    # Given a list of some length, used in some way
    procedure = procedure_of(*[move()] * steps)
    # When a step is left out
    found = judged(Way((OMITTED,)), procedure, Circumstances(list_use=use)).estimate
    # Then the fitting row gives the middle, and the band is at least a factor of five
    assert [row.table for row in found.rows] == [table]
    assert found.likely == pytest.approx(median)
    assert found.high == pytest.approx(5 * median, rel=1e-3)
    assert found.low == pytest.approx(median / 5, rel=1e-3)


def test_band_is_the_rows_own_when_nothing_wider_is_asked():
    found = judged(Way((OMITTED,)), procedure_of(move()), AS_PUBLISHED).estimate
    assert (found.low, found.high) == pytest.approx((0.001 / 3, 0.003), rel=1e-3)


@pytest.mark.parametrize(
    ("kind", "thing", "table", "assumed"),
    [
        (SlipKind.HALF_DONE, Thing.CONNECTOR, "20-12 (13)", False),
        (SlipKind.HALF_DONE, Thing.VALVE, "20-12 (9)", True),
        (SlipKind.HALF_DONE, Thing.CONTROL, "20-12 (13)", True),
        (SlipKind.WRONG_OBJECT, Thing.VALVE, "20-13 (4)", False),
        (SlipKind.WRONG_OBJECT, Thing.CONTROL, "20-12 (2)", False),
        (SlipKind.WRONG_OBJECT, Thing.CONNECTOR, "20-12 (2)", False),
        (SlipKind.WRONG_OBJECT, None, "20-12 (2)", True),
        (SlipKind.REPEATED, None, "20-7 (1)", True),
        (SlipKind.EARLY, None, "20-7 (1)", True),
        (SlipKind.LATE, None, "20-7 (1)", True),
        (SlipKind.OMITTED, None, "20-7 (1)", False),
    ],
)
def test_row_fits_the_slip_or_says_that_it_does_not(kind, thing, table, assumed):
    # Given what is handled, and valves that are hard to tell apart
    circumstances = Circumstances(
        labelling=Labelling.UNCLEAR_SIMILAR, things={0: thing} if thing else {}
    )
    found = judged(Way((Slip(kind, 0),)), procedure_of(move()), circumstances).estimate
    assert [row.table for row in found.rows] == [table]
    assert bool(found.assumed) == assumed


@pytest.mark.parametrize(
    ("kind", "lane", "dependence"),
    [
        (CheckKind.WITH_LIST, DRESSER, Dependence.HIGH),
        (CheckKind.WITH_LIST, WEARER, Dependence.MODERATE),
        (CheckKind.WITHOUT_LIST, WEARER, Dependence.MODERATE),
        (CheckKind.MEASURED, DRESSER, Dependence.HIGH),
        (CheckKind.MEASURED, WEARER, Dependence.LOW),
        (CheckKind.OWN_SAFETY, WEARER, Dependence.LOW),
        (CheckKind.SECOND_PERSON, WEARER, Dependence.ZERO),
        (CheckKind.SECOND_PERSON, DRESSER, Dependence.HIGH),
    ],
)
def test_who_checks_decides_what_a_check_is_worth(kind, lane, dependence):
    # Given a slip of the dresser that one check should find
    factors = failures_in_a_row(CHECKED, (OMITTED,), (PLACES[kind, lane],), AS_PUBLISHED)
    assert [factor.dependence for factor in factors] == [Dependence.ZERO, dependence]


def test_slip_and_missed_check_multiply():
    # Given a list of eleven items and the wearer's check with the list
    way = Way((OMITTED,), (PLACES[CheckKind.WITH_LIST, WEARER],))
    found = judged(way, CHECKED, AS_PUBLISHED).estimate
    # Then it is as when both rows are drawn here, each apart, the check's one part in seven surer
    draw = np.random.default_rng(8).standard_normal((2, 1_000_000))
    omitted, unseen = 0.003 * 3 ** (draw[0] / 1.645), np.minimum(1, 0.1 * 5 ** (draw[1] / 1.645))
    low, likely, high = np.quantile(omitted * (1 + 6 * unseen) / 7, (0.05, 0.5, 0.95))
    assert (found.low, found.likely, found.high) == pytest.approx((low, likely, high), rel=0.05)
    # And near the handbook's arithmetic of medians
    assert found.likely == pytest.approx(0.003 * 1.6 / 7, rel=0.1)


@given(
    st.lists(st.integers(1, 10), unique=True, max_size=6),
    st.sampled_from(Stress),
    st.booleans(),
    st.integers(0, 5),
)
def test_another_missed_check_never_makes_harm_likelier(places, stress, novice, seed):
    # Given a way with some missed checks, in any circumstances
    circumstances = Circumstances(stress=stress, novice=novice)
    missed = [tuple(places[:many]) for many in range(len(places) + 1)]
    # When one more must be missed, then harm is not likelier
    medians = [
        together(failures_in_a_row(CHECKED, (OMITTED,), few, circumstances)) for few in missed
    ]
    assert all(more <= fewer for fewer, more in pairwise(medians))
    # And every estimate is a band of probabilities, not below the floor
    for few in missed:
        found = judged(Way((OMITTED,), few), CHECKED, circumstances, seed).estimate
        assert 0.0 < found.low < found.likely < found.high <= 1.0
        assert found.likely >= JOINT_FLOOR * (1 - 1e-9)


def test_check_that_adds_nothing_is_left_out_of_account():
    # Given two checks by the dresser before the wearer's own: the rule for the fourth failure in a
    # row would make the wearer's worth less than the two together are
    wearer = PLACES[CheckKind.OWN_SAFETY, WEARER]
    two = (PLACES[CheckKind.MEASURED, DRESSER], wearer)
    three = (*two, PLACES[CheckKind.OWN_SAFETY, DRESSER])
    # Then the third check does not make harm likelier
    few, more = (failures_in_a_row(CHECKED, (OMITTED,), m, AS_PUBLISHED) for m in (two, three))
    assert together(more) == together(few)


def test_many_missed_checks_are_told_in_good_time():
    # Given twenty missed checks, then only the six surest are given credit
    procedure = procedure_of(move(), *[check(CheckKind.MEASURED, WEARER)] * 20)
    found = failures_in_a_row(procedure, (OMITTED,), tuple(range(1, 21)), AS_PUBLISHED)
    assert len(found) == 7


def test_no_credit_for_a_third_reader():
    # Given two second-person checks by two others
    procedure = procedure_of(
        move(), check(CheckKind.SECOND_PERSON, 1), check(CheckKind.SECOND_PERSON, 1)
    )
    one, two = (
        judged(Way((OMITTED,), missed), procedure).estimate.likely for missed in ((1,), (1, 2))
    )
    assert two == one


def test_third_check_is_at_least_highly_dependent():
    # Given three readings by the wearer after the dresser's slip
    procedure = procedure_of(move(), *[check(CheckKind.MEASURED, WEARER)] * 3)
    factors = failures_in_a_row(procedure, (OMITTED,), (1, 2, 3), AS_PUBLISHED)
    # Then the first hangs on the dresser a little, the next on the wearer who has missed it before
    assert [f.dependence for f in factors[1:]] == [Dependence.LOW] + [Dependence.HIGH] * 2


def test_floor_lifts_the_whole_band():
    # Given four independent slips, far below any credible figure
    slips = tuple(Slip(SlipKind.OMITTED, place) for place in range(4))
    found = judged(Way(slips), procedure_of(*[move()] * 4)).estimate
    assert found.floored
    assert found.likely == pytest.approx(JOINT_FLOOR)
    # And it is not surer for that
    assert found.high / found.likely > 5
    assert found.likely / found.low > 5


def test_one_slip_alone_is_never_lifted():
    assert not judged(Way((OMITTED,)), procedure_of(move())).estimate.floored


def test_check_left_out_is_a_check_missed():
    # Given the check itself as the second slip, or as a missed check
    place = PLACES[CheckKind.MEASURED, WEARER]
    left_out = judged(Way((OMITTED, Slip(SlipKind.OMITTED, place))), CHECKED).estimate
    assert left_out == judged(Way((OMITTED,), (place,)), CHECKED).estimate


def test_equipment_failures_carry_no_probability():
    # Given a fan that stops, alone and with a check that is missed
    fan = Slip(SlipKind.FAILURE, 0, "fan stops")
    alone = judged(Way((fan,)), CHECKED)
    missed = judged(Way((fan,), (PLACES[CheckKind.MEASURED, WEARER],)), CHECKED)
    # Then the first has no figure, the second that of the check, given the failure
    assert alone.estimate is None
    assert "no probability" in alone.words
    assert missed.estimate.likely == pytest.approx(0.01)
    assert missed.words.startswith('given "fan stops": about 1 in 100 runs, between')


def test_weakest_points_come_first():
    fan = Slip(SlipKind.FAILURE, 0, "fan stops")
    measured = (PLACES[CheckKind.MEASURED, WEARER],)
    given_fan, enough = Way((fan,), measured), Way((fan,))
    unlikely, likely = Way((OMITTED,), measured), Way((OMITTED,))
    found = ranked([given_fan, unlikely, likely, enough], CHECKED)
    assert [each.way for each in found] == [enough, likely, unlikely, given_fan]


def test_sum_keeps_its_doubt():
    # Given ten steps, each of which harms when left out
    procedure = procedure_of(*[move()] * 10)
    ways = [Way((Slip(SlipKind.OMITTED, place),)) for place in range(10)]
    one, all_ = judged(ways[0], procedure).estimate, overall(ways, procedure).slips
    # Then the sum is ten times one, and as wide: one doubt stands behind all
    assert all_.likely == pytest.approx(10 * one.likely)
    assert all_.high / all_.likely == pytest.approx(one.high / one.likely)


def test_one_slip_with_many_ends_counts_once():
    # Given a wrong object of three, each of which harms, and a step moved by 2 to 5 places
    wrong = [Way((Slip(SlipKind.WRONG_OBJECT, 0, name),)) for name in "abc"]
    late = [Way((Slip(SlipKind.LATE, 0, f"after step {place}"),)) for place in range(2, 6)]
    procedure = procedure_of(move())
    both = overall([*wrong, *late], procedure).slips
    singles = [overall(ways, procedure).slips for ways in (wrong, late)]
    # Then the published probability of each kind of slip is spent once
    assert singles[0].likely == pytest.approx(0.003)
    assert singles[1].likely == pytest.approx(0.001)
    assert both.mean == pytest.approx(sum(single.mean for single in singles))


def test_sum_never_passes_one():
    circumstances = Circumstances(list_use=ListUse.NOT_USED, stress=Stress.EXTREMELY_HIGH)
    ways = [Way((Slip(SlipKind.OMITTED, place),)) for place in range(10)]
    found = overall(ways, procedure_of(*[move()] * 10), circumstances).slips
    assert found.high == 1.0
    assert found.words.startswith("about every run, between every run and 1 in ")


def test_what_failures_open_is_summed_apart():
    fan, pump = (Slip(SlipKind.FAILURE, 0, f"{name} stops") for name in ("fan", "pump"))
    place = PLACES[CheckKind.MEASURED, WEARER]
    found = overall([Way((pump,)), Way((fan,), (place,)), Way((OMITTED,))], CHECKED)
    assert found.slips.likely == pytest.approx(0.003)
    assert [(names, estimate is None) for names, estimate in found.given] == [
        (("fan stops",), False),
        (("pump stops",), True),
    ]
    assert overall([], CHECKED).slips is None


@given(st.permutations(range(4)), st.integers(0, 3))
def test_order_of_the_ways_does_not_matter(order, seed):
    ways = [Way((Slip(SlipKind.OMITTED, place),)) for place in range(4)]
    procedure = procedure_of(*[move()] * 4)
    shuffled = [ways[place] for place in order]
    assert overall(shuffled, procedure, seed=seed) == overall(ways, procedure, seed=seed)


@pytest.mark.parametrize(
    ("low", "likely", "high", "words"),
    [
        (1e-4, 1 / 3000, 1 / 900, "about 1 in 3,000 runs, between 1 in 900 and 1 in 10,000"),
        (0.001, 0.003, 0.01, "about 1 in 300 runs, between 1 in 100 and 1 in 1,000"),
        (0.11, 0.3, 0.6, "about 1 in 3 runs, between every run and 1 in 10"),
        (3.4e-6, 1e-5, 2.9e-5, "about 1 in 100,000 runs, between 1 in 30,000 and 1 in 300,000"),
    ],
)
def test_orders_of_magnitude_in_words(low, likely, high, words):
    assert Estimate(likely, low, high, likely, ()).words == words


@given(st.floats(1e-9, 1.0), st.floats(1.0, 10.0), st.floats(1.0, 10.0))
def test_words_never_narrow_the_band(likely, up, down):
    # Given a band, when it is told in words
    low, high = likely / down, min(1.0, likely * up)
    words = Estimate(likely, low, high, likely, ()).words
    told = [
        1.0 if part == "every run" else 1.0 / int(part[5:].replace(",", ""))
        for part in re.findall(r"every run|1 in [\d,]*\d", words)
    ]
    # Then what is said lies around it, and the middle within half a figure
    assert len(told) == 3
    assert told[1] >= high * (1 - 1e-6)
    assert told[2] <= low * (1 + 1e-6)
    assert told[0] == pytest.approx(likely, rel=0.51)


@pytest.mark.parametrize(
    ("way", "words"),
    [
        (Way(()), "without a slip"),
        (Way((Slip(SlipKind.OMITTED, 99),)), "place of a step is 99"),
        (Way((OMITTED,), (0,)), 'step 1, "open the valve", is no check'),
    ],
)
def test_ways_that_make_no_sense_are_refused(way, words):
    with pytest.raises(ValueError, match=words):
        judged(way, CHECKED)
