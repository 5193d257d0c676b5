"""Whether the words of a procedure and its kit keep to the published rules for procedures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from neckring.procedure.wording_lines import line_findings
from neckring.procedure.wording_names import names_of
from neckring.procedure.wording_rules import SOURCES as SOURCES
from neckring.procedure.wording_rules import WordingFinding as WordingFinding
from neckring.procedure.wording_rules import WordingRule as WordingRule
from neckring.procedure.wording_steps import StepRules
from neckring.procedure.wording_text import Line, Role
from neckring.station.kit import Kit
from neckring.station.procedure_sheet import ProcedureSheet

_OF_A_STEP = {
    "tell": Role.TOLD,
    "say": Role.CALL,
    "answer": Role.ANSWER,
    "expect": Role.EXPECTED,
    "if_not": Role.OTHERWISE,
    "note": Role.NOTE,
}
_OF_A_RULE = {
    "words": Role.RULE,
    "hazard": Role.HAZARD,
    "consequence": Role.CONSEQUENCE,
    "avoid": Role.AVOID,
}


def wording_findings(
    sheet: ProcedureSheet,
    kit: Kit,
    *,
    critical: Mapping[int, str] | None = None,
    clocks: Mapping[int, str] | None = None,
) -> tuple[WordingFinding, ...]:
    """Where a procedure and its kit do not keep to the rules of wording.

    Args:
        sheet: The procedure; what it refers to is in its kit.
        kit: Its kit.
        critical: Step number, from 1, to the code of the rule that breaks when its move is done in
            the wrong state, where a proof has found it.
        clocks: Step number, from 1, to the code of the rule whose time runs from that step on.

    Returns:
        First those of the procedure, then those of the kit.
    """
    return (
        *procedure_findings(sheet, kit, critical=critical, clocks=clocks),
        *kit_findings(kit),
    )


def procedure_findings(
    sheet: ProcedureSheet,
    kit: Kit,
    *,
    critical: Mapping[int, str] | None = None,
    clocks: Mapping[int, str] | None = None,
) -> tuple[WordingFinding, ...]:
    """The findings in a procedure's own file; for its arguments see `wording_findings`."""
    lines = list(procedure_lines(sheet))
    steps = StepRules(sheet, kit, critical or {}, clocks or {})
    found = [*_of_lines(lines, kit), *steps.references(lines), *steps.findings()]
    # The whole procedure first, then step by step.
    return tuple(sorted(found, key=lambda finding: finding.step or 0))


def kit_findings(kit: Kit) -> tuple[WordingFinding, ...]:
    """The findings in a kit's file, whichever procedures it serves."""
    return tuple(_of_lines(list(kit_lines(kit)), kit))


def _of_lines(lines: list[Line], kit: Kit) -> Iterator[WordingFinding]:
    for line in lines:
        yield from line_findings(line)
    yield from names_of(kit).findings(lines)


def procedure_lines(sheet: ProcedureSheet) -> Iterator[Line]:
    """Every line of a procedure that people act on."""
    if sheet.when is not None:
        yield Line(sheet.when, Role.BEGINNING, "procedure", ("when",))
    for place, step in enumerate(sheet.steps):
        for key, role in _OF_A_STEP.items():
            text = getattr(step, key)
            if text is not None:
                yield Line(text, role, "procedure", ("steps", place, key), place + 1)


def kit_lines(kit: Kit) -> Iterator[Line]:
    """Every line of a kit that people act on."""
    for code, thing in kit.things.items():
        yield Line(thing.words, Role.NAME, "kit", ("things", code, "words"))
    for code, move in kit.moves.items():
        yield Line(move.words, Role.MOVE, "kit", ("moves", code, "words"))
    for code, sign in kit.signs.items():
        yield Line(sign.words, Role.SIGN, "kit", ("signs", code, "words"))
    for code, rule in kit.rules.items():
        for key, role in _OF_A_RULE.items():
            yield Line(getattr(rule, key), role, "kit", ("rules", code, key))
    for code, breakdown in kit.breakdowns.items():
        yield Line(breakdown.words, Role.BREAKDOWN, "kit", ("breakdowns", code, "words"))
