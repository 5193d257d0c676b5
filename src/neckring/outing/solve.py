"""Inverse questions: the least or the most of something with which a run still is a go.

Each question is a row of values in the order from careful to bold. The boldest one that keeps
every reserve is found by halving, with all failures computed at each trial.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from neckring.outing.ensemble import Question, Runner
from neckring.outing.inverse import INVERSES, Inverse
from neckring.outing.look_ahead import keeps
from neckring.outing.outlook import Answer
from neckring.outing.plan import make_plan

# Where the boldest value is looked for first when what is planned is no go: shares of the way
# from it to the most careful value.
PROBES = (0.25, 0.5, 0.75, 1.0)
# Asks every question of `INVERSES`.
CHANGE = "change"


@dataclass
class Trials:
    """Asks whether changed runs are a go.

    Attributes:
        run: Computes chunks of members.
        workers: Threads for what is not in chunks.
        tell: Told what is being tried.
    """

    run: Runner
    workers: int
    tell: Callable[[str], None]

    def go(self, question: Question, words: str) -> bool:
        """Whether a run is a go: nothing ends it, and help comes in time whatever fails."""
        self.tell(f"trying {words}")
        alone = make_plan(question.scenario, question.sheet)
        return alone.verdict == "go" and keeps(question, self.run, self.workers)


def solve(question: Question, code: str, trials: Trials) -> Answer:
    """Answer one inverse question.

    Args:
        question: The run as planned.
        code: Of the inverse question, a key of `INVERSES`.
        trials: Asks whether a changed run is a go.
    """
    inverse = INVERSES[code]
    values = inverse.values(question)
    present = inverse.present(question)
    if not values:
        return Answer(code, inverse.question, present, inverse.nothing, False, False)
    found = boldest(inverse, question, values, trials)
    if found is None:
        careful = inverse.words(question, values[0])
        answer = f"not even {careful} makes it a go"
        return Answer(code, inverse.question, present, answer, False, False)
    words = inverse.words(question, found)
    return Answer(code, inverse.question, present, words, True, words != present)


def boldest(
    inverse: Inverse, question: Question, values: Sequence[float], trials: Trials
) -> float | None:
    """The boldest value that is a go, None when the most careful one is not.

    Args:
        inverse: The question.
        question: The run as planned.
        values: From careful to bold.
        trials: Asks whether a changed run is a go.
    """

    def go(place: int) -> bool:
        value = values[place]
        return trials.go(inverse.changed(question, value), inverse.words(question, value))

    planned = inverse.planned_place(question, values)
    if go(planned):
        good, bad = planned, len(values)
        if good + 1 < bad and go(bad - 1):
            return values[-1]
        bad = max(good + 1, bad - 1)
    else:
        bad = planned
        tried = [round(planned * (1.0 - share)) for share in PROBES]
        found = next((place for place in dict.fromkeys(tried) if place < bad and go(place)), None)
        if found is None:
            return None
        good = found
        bad = min((place for place in (*tried, planned) if place > good), default=planned)
    while bad - good > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if go(middle) else (good, middle)
    return values[good]


def cheapest_change(question: Question, trials: Trials) -> tuple[Answer, ...]:
    """What alone turns a run into a go, the change that costs a crew least first.

    The order is that of `INVERSES`: assumed, from moving a person to giving up work.
    """
    found = [solve(question, code, trials) for code in INVERSES]
    return tuple(answer for answer in found if answer.enough)


def solved(question: Question, codes: Sequence[str], trials: Trials) -> tuple[Answer, ...]:
    """Answers to all that was asked, each once, in the order asked."""
    answers: dict[str, Answer] = {}
    for code in dict.fromkeys(codes):
        asked = (
            [solve(question, code, trials)] if code != CHANGE else cheapest_change(question, trials)
        )
        answers |= {answer.code: answer for answer in asked}
    return tuple(answers.values())
