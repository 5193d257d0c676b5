"""A model as text for the public model checker spin, so that strangers can check our proofs.

Source: Holzmann 2003, The SPIN Model Checker, the language Promela (from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from neckring.procedure.model import Action, All, Among, AnyOf, Condition, Model, Not, Rule

# What one byte, a short and an int of Promela hold at most.
HOLDING = ((255, "byte"), (32_767, "short"), (2_147_483_647, "int"))


def promela(model: Model) -> str:
    """The model as one process that does any action that may be done, one at a time.

    Each action and then each rule is one line, in their order. A process that can do nothing more
    is no error, since that is for a rule to say.
    """
    names = identifiers(model)
    options = [action_line(action, names) for action in model.actions]
    options += [rule_line(rule, names) for rule in model.rules]
    lines = [
        f"/* {comment(model.name)}: {len(model.actions)} actions, {len(model.rules)} rules */",
        *declarations(model, names),
        "",
        "active proctype all_that_may_happen() {",
        "end: do",
        *(options or ["  :: false"]),
        "  od",
        "}",
    ]
    return "\n".join(lines) + "\n"


def identifiers(model: Model) -> list[str]:
    """A name for each variable that is no word of the language and no other's name."""
    plain = (re.sub(r"[^A-Za-z0-9]+", "_", variable.name) for variable in model.variables)
    return [f"v{number}_{name}" for number, name in enumerate(plain)]


def comment(text: str) -> str:
    """A text that cannot end the comment it stands in, nor its line."""
    return " ".join(re.sub(r"[^ -~]|[*/\\]", " ", text).split())


def declarations(model: Model, names: list[str]) -> list[str]:
    """A line for each variable, with the names of its values.

    Raises:
        ValueError: when a variable has more values than the language can count.
    """
    lines = []
    for variable, name in zip(model.variables, names, strict=True):
        last = len(variable.states) - 1
        kind = next((word for most, word in HOLDING if last <= most), None)
        if kind is None:
            raise ValueError(f"{variable.name!r} has {last + 1} values, too many for Promela")
        values = ", ".join(comment(state) for state in variable.states)
        lines.append(f"{kind} {name} = {variable.start}; /* {values} */")
    return lines


def action_line(action: Action, names: list[str]) -> str:
    """An action: where its guard holds, its effects, as one indivisible step."""
    written = "; ".join(f"{names[variable]} = {value}" for variable, value in action.effects)
    return option(expression(action.guard, names), written or "skip", action.name)


def rule_line(rule: Rule, names: list[str]) -> str:
    """A rule: where it breaks, an assertion that fails."""
    return option(expression(rule.bad, names), "assert(false)", rule.name)


def option(guard: str, then: str, name: str) -> str:
    """One way to go on."""
    return f"  :: d_step {{ ({guard}) -> {then} }} /* {comment(name)} */"


def expression(condition: Condition, names: list[str]) -> str:
    """A condition in Promela, every part in brackets."""
    match condition:
        case Among(variable, values):
            return joined((f"{names[variable]} == {value}" for value in sorted(values)), "||")
        case Not(part):
            return f"!({expression(part, names)})"
        case All(parts):
            return joined((expression(part, names) for part in parts), "&&")
        case AnyOf(parts):
            return joined((expression(part, names) for part in parts), "||")


def joined(parts: Iterable[str], sign: str) -> str:
    """Parts joined by a sign; of none, what holds of none."""
    return f" {sign} ".join(f"({part})" for part in parts) or {"&&": "true", "||": "false"}[sign]
