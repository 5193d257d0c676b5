"""Arithmetic of human error against published and worked values.

No original of NUREG/CR-1278 or NUREG/CR-6883 was opened: what was seen is others' quotation, and
the sources say so.
"""

from __future__ import annotations

import math

import pytest

from neckring.procedure.fitting_rows import (
    Circumstances,
    Slip,
    SlipKind,
    failures_in_a_row,
    together,
)
from neckring.procedure.human_error import (
    ERROR_ROWS,
    Dependence,
    Lognormal,
    at_least_one,
    given_failure,
    product,
)
from neckring.procedure.model import Model, Variable
from neckring.procedure.shaping_factors import (
    ERROR_PRODUCING_CONDITIONS,
    GENERIC_TASKS,
    TaskKind,
    heart,
    spar_h,
)
from neckring.procedure.steps import CheckKind, Procedure, Step, StepKind

AREA = "human error"
EXACT = 1e-6

DEPENDENCE = (
    "dependence equations of NUREG/CR-1278 (Swain and Guttmann 1983; numbers 10-14 to 10-18 from "
    "memory, forms seen second-hand in three places); value worked out apart from the code"
)
RECORD = "worked THERP record quoting NUREG/CR-1278 by table and item (seen second-hand)"
LABORATORY = "INL, BAHAMAS documentation, human error probabilities (idaholab.github.io)"
COMPOSITE = (
    "composite formula of NUREG/CR-6883 (Gertman et al. 2005; seen second-hand in two places); "
    "value worked out apart from the code"
)
PUBLIC_CODE = "public SPAR-H program, its worked case; read for the numbers only, not run"
LEVELS = {"ZD": Dependence.ZERO, "LD": Dependence.LOW, "MD": Dependence.MODERATE}
LEVELS |= {"HD": Dependence.HIGH, "CD": Dependence.COMPLETE}


@pytest.mark.parametrize(
    ("basic", "level", "expected"),
    [
        (0.01, "LD", 0.0595),
        (0.01, "MD", 0.151428571),
        (0.01, "HD", 0.505),
        (0.003, "LD", 0.05285),
        (0.003, "MD", 0.145428571),
        (0.003, "HD", 0.5015),
        (0.001, "LD", 0.05095),
        (0.001, "MD", 0.143714286),
        (0.001, "HD", 0.5005),
        (0.1, "LD", 0.145),
        (0.1, "MD", 0.228571429),
        (0.1, "HD", 0.55),
        (0.1, "ZD", 0.1),
        (0.1, "CD", 1.0),
    ],
)
def test_dependence(outside_check, basic, level, expected):
    outside_check(
        area=AREA,
        name=f"dependence {level}: {basic:g} given a failure before it",
        source=DEPENDENCE,
        kind="identity",
        expected=expected,
        tolerance=EXACT,
        obtained=given_failure(basic, LEVELS[level]),
    )


@pytest.mark.parametrize(("level", "expected"), [("ZD", 3.0e-4), ("LD", 4.35e-4)])
def test_omission_and_a_checker(outside_check, level, expected):
    # Rows, not numbers, so that a slip in the table is seen too.
    omission, checker = ERROR_ROWS["20-7 (3)"], ERROR_ROWS["20-22 (1)"]
    outside_check(
        area=AREA,
        name=f"step left out (0.003) and not caught by a checker (0.1), {level}",
        source=f"{DEPENDENCE}; 0.003 seen second-hand, 0.1 from memory",
        kind="identity",
        expected=expected,
        tolerance=EXACT * expected,
        obtained=omission.median * given_failure(checker.median, LEVELS[level]),
    )


def test_two_checkers_are_not_two_tenths(outside_check):
    omission, checker = ERROR_ROWS["20-7 (3)"], ERROR_ROWS["20-22 (1)"]
    second = given_failure(checker.median, Dependence.HIGH)
    outside_check(
        area=AREA,
        name="step left out (0.003), two checkers with a list (0.1), the second at HD",
        source=f"{DEPENDENCE}; 0.003 seen second-hand, 0.1 from memory",
        kind="identity",
        expected=1.65e-4,
        tolerance=1e-10,
        obtained=omission.median * checker.median * second,
    )


@pytest.mark.parametrize(("each", "expected"), [(0.003, 0.164955733), (0.001, 0.058263738)])
def test_sixty_items(outside_check, each, expected):
    outside_check(
        area=AREA,
        name=f"at least one of 60 items left out at {each:g} each",
        source="1 - (1 - p)^60, worked out apart from the code",
        kind="identity",
        expected=expected,
        tolerance=EXACT,
        obtained=at_least_one(each, 60),
    )


@pytest.mark.parametrize(
    ("factor", "expected"), [(3, 1.249834848), (5, 1.613838310), (10, 2.663515640)]
)
def test_mean_over_median(outside_check, factor, expected):
    outside_check(
        area=AREA,
        name=f"mean over median at an error factor of {factor}",
        source="lognormal with sigma = ln(EF)/1.645, worked out apart from the code in decimal "
        "arithmetic; the unrounded 1.644854 would give 1.24988, 1.61398 and 2.66398",
        kind="identity",
        expected=expected,
        tolerance=EXACT,
        obtained=Lognormal(0.001, factor).mean / 0.001,
    )


@pytest.mark.parametrize(
    ("median", "factor", "sigma", "half"), [(0.003, 5, 0.978382, 1e-6), (1e-4, 30, 2.0676, 5e-5)]
)
def test_sigma_of_a_national_laboratory(outside_check, median, factor, sigma, half):
    outside_check(
        area=AREA,
        name=f"lognormal sigma of median {median:g}, error factor {factor}",
        source=LABORATORY,
        kind="published",
        expected=sigma,
        tolerance=half,
        obtained=Lognormal(median, factor).sigma,
    )


def procedure_not_used_and_step_left_out():
    return product([ERROR_ROWS["20-6 (7)"].band, ERROR_ROWS["20-7 (5)"].band])


def test_error_factor_of_a_product_as_printed(outside_check):
    outside_check(
        area=AREA,
        name="error factor of 0.3 (EF 5) times 0.05 (EF 5), as printed",
        source=f"{RECORD}: prints 9.74",
        kind="published",
        expected=9.74,
        tolerance=0.005,
        obtained=procedure_not_used_and_step_left_out().error_factor,
    )


def test_error_factor_of_a_product_exactly(outside_check):
    outside_check(
        area=AREA,
        name="error factor of 0.3 (EF 5) times 0.05 (EF 5), to six decimals",
        source="5 to the power of the square root of 2, worked out apart from the code",
        kind="identity",
        expected=9.738518,
        tolerance=EXACT,
        obtained=procedure_not_used_and_step_left_out().error_factor,
    )


def test_median_of_a_product_as_printed(outside_check):
    outside_check(
        area=AREA,
        name="median of 0.3 (EF 5) times 0.05 (EF 5), as printed",
        source=f"{RECORD}: prints 0.015",
        kind="published",
        expected=0.015,
        tolerance=EXACT,
        obtained=procedure_not_used_and_step_left_out().median,
    )


@pytest.mark.parametrize(
    ("table", "median", "factor"),
    [
        ("20-6 (7)", 0.3, 5),
        ("20-7 (3)", 0.003, 3),
        ("20-7 (5)", 0.05, 5),
        ("20-13 (1)", 0.001, 3),
        ("20-14 (3)", 0.005, 3),
    ],
)
def test_rows_of_the_record(outside_check, table, median, factor):
    row = ERROR_ROWS[table]
    for name, expected, obtained in (
        ("median", median, row.median),
        ("error factor", factor, row.error_factor),
    ):
        outside_check(
            area=AREA,
            name=f"row {table}: {name}",
            source=RECORD,
            kind="published",
            expected=expected,
            tolerance=0.0,
            obtained=obtained,
        )


@pytest.mark.parametrize(
    ("name", "task", "multipliers", "expected"),
    [
        ("diagnosis, three negative, product 100", TaskKind.DIAGNOSIS, (10, 5, 2), 0.502512563),
        ("action, multipliers 10, 5, 10", TaskKind.ACTION, (10, 5, 10), 0.333555704),
    ],
)
def test_spar_h(outside_check, name, task, multipliers, expected):
    outside_check(
        area=AREA,
        name=f"SPAR-H {name}",
        source=COMPOSITE,
        kind="identity",
        expected=expected,
        tolerance=EXACT,
        obtained=spar_h(task, multipliers),
    )


@pytest.mark.parametrize(
    ("task", "expected", "half"),
    [(TaskKind.DIAGNOSIS, 0.288, 0.0005), (TaskKind.ACTION, 0.0385, 0.00005)],
)
def test_spar_h_of_another_program(outside_check, task, expected, half):
    outside_check(
        area=AREA,
        name=f"SPAR-H {task.value}, three negative, product 40",
        source=PUBLIC_CODE,
        kind="reference library",
        expected=expected,
        tolerance=half,
        obtained=spar_h(task, (10, 2, 2)),
    )


# Greatest effects and shares of a textbook's case (from memory).
TEXTBOOK = ((3.0, 0.4), (6.0, 1.0), (4.0, 0.8), (2.5, 0.8), (1.2, 0.6))


def test_heart_exactly(outside_check):
    outside_check(
        area=AREA,
        name="HEART, task F, five conditions, to six decimals",
        source="Williams' formula (seen second-hand in several places) for a textbook's case (from "
        "memory); value worked out apart from the code",
        kind="identity",
        expected=0.271434,
        # Given to six decimals.
        tolerance=EXACT,
        obtained=heart(GENERIC_TASKS["F"].value, TEXTBOOK),
    )


def test_heart_as_the_textbook_has_it(outside_check):
    outside_check(
        area=AREA,
        name="HEART, task F, five conditions, as a textbook rounds it",
        source="textbook case after Williams 1985, 1988: 0.27 (from memory)",
        kind="from memory",
        expected=0.27,
        tolerance=0.005,
        obtained=heart(GENERIC_TASKS["F"].value, TEXTBOOK),
    )


def test_heart_of_another_program(outside_check):
    unfamiliar = ERROR_PRODUCING_CONDITIONS["unfamiliar"].value
    outside_check(
        area=AREA,
        name="HEART, task E, unfamiliar at a half",
        source="public HEART program, its worked case: 0.18; read for the numbers only, not run",
        kind="reference library",
        expected=0.18,
        tolerance=0.005,
        obtained=heart(GENERIC_TASKS["E"].value, [(unfamiliar, 0.5)]),
    )


@pytest.mark.parametrize(("lane", "who"), [(0, "the same person"), (1, "another person")])
def test_checks_on_airline_flights(outside_check, lane, who):
    # Given a step and a check with the list
    kit = Model("invented", (Variable("valve", ("shut", "open")),), ())
    steps = (
        Step(1, 0, StepKind.MOVE, "open the valve"),
        Step(2, lane, StepKind.CHECK, "see it open", check=CheckKind.WITH_LIST),
    )
    procedure = Procedure(kit, (), ("dresser", "wearer"), steps)
    slip, check = failures_in_a_row(procedure, (Slip(SlipKind.OMITTED, 0),), (1,), Circumstances())
    # Then what is let through is held against what crews let through; other work, other people
    outside_check(
        area=AREA,
        name=f"share of slips that a check with the list lets through, made by {who}",
        source="Dismukes and Berman 2010, NASA/TM-2010-216396, 60 line flights: trapped 35 % by "
        "primary procedure, 14 % by checklist, 6 % by monitoring (seen second-hand)",
        kind="practice",
        low=0.65,
        high=0.94,
        obtained=together((slip, check)) / slip.band.median,
        informative=True,
    )


def test_band_of_a_wide_row_stays_a_probability(outside_check):
    outside_check(
        area=AREA,
        name="95th percentile of 0.5 (EF 5), which would be 2.5",
        source="a probability is at most 1",
        kind="identity",
        expected=1.0,
        tolerance=0.0,
        obtained=ERROR_ROWS["20-12 (7)"].band.high,
    )
    assert math.isclose(ERROR_ROWS["20-12 (7)"].band.low, 0.1)
