"""Everything that is known of a procedure once it has been examined: frozen records."""

from __future__ import annotations

from dataclasses import dataclass

from neckring.procedure.authoring import AuthoringFinding
from neckring.procedure.findings import Verdict
from neckring.procedure.listing import Listed
from neckring.procedure.model import State
from neckring.procedure.risk import Estimate
from neckring.procedure.slips import Outcome as Outcome
from neckring.procedure.timing import LaneStart, Timing
from neckring.procedure.way_out import FastestWay, WayOut
from neckring.procedure.wording import WordingFinding


@dataclass(frozen=True)
class Claim:
    """One question about the procedure and the engine's answer.

    Attributes:
        question: In words.
        verdict: One of the three.
        words: What the answer says, for people.
        trace: Acts of the shortest way to what breaks, in words; empty unless broken.
        states: How many states were looked at; None where sequences were.
        seconds: How long it took [s].
        engine: Which engine answered.
    """

    question: str
    verdict: Verdict
    words: str
    trace: tuple[str, ...] = ()
    states: int | None = None
    seconds: float = 0.0
    engine: str = ""


@dataclass(frozen=True)
class Difference:
    """A thing that stands otherwise than it would without the slip.

    Attributes:
        thing: In the kit's words, with its wearer.
        nominal: Its state without the slip.
        slipped: Its state with it.
    """

    thing: str
    nominal: str
    slipped: str


@dataclass(frozen=True)
class TraceRow:
    """One step from the slip on, side by side.

    Attributes:
        step: Number of the step; None for what the kit does by itself.
        words: What is done.
        differences: What then stands otherwise than without the slip.
    """

    step: int | None
    words: str
    differences: tuple[Difference, ...]


@dataclass(frozen=True)
class Catch:
    """A check that would catch a slip before harm.

    Attributes:
        sign: Code of the sign to look for.
        words: What to look for.
        after_step: The step after which it is looked for.
        who: Who looks.
        slips: How many harmful slips it would catch in all.
        seconds: What it costs [s].
    """

    sign: str
    words: str
    after_step: int
    who: str
    slips: int
    seconds: float


@dataclass(frozen=True)
class SlipStory:
    """One harmful or latent slip, told.

    Attributes:
        words: The slip, in words.
        kind: Its kind, as `accepted` writes it.
        step: Number of the step at which it is made.
        outcome: What becomes of it.
        rule: Code of the rule that breaks; empty when latent.
        harm: What the rule's breaking can do; empty when latent.
        sentence: What happens, when, and what would have caught it.
        trace: From the slip to the harm.
        cause: The things (two at most) that, set right, would prevent the harm.
        seconds: From the slip to the harm, acts as long as likely [s].
        catches: Checks that would have caught it, the earliest first.
        risk: How often, in bands; None where nothing is published.
        accepted: Why the lead accepts it; empty when it is not accepted.
    """

    words: str
    kind: str
    step: int
    outcome: Outcome
    rule: str
    harm: str
    sentence: str
    trace: tuple[TraceRow, ...]
    cause: tuple[str, ...]
    seconds: float
    catches: tuple[Catch, ...]
    risk: Estimate | None
    accepted: str = ""


@dataclass(frozen=True)
class SlipCounts:
    """How many sequences come to which end.

    Attributes:
        total: All sequences.
        outcomes: Number of each outcome.
        by_kind: For each kind of slip, the number of each outcome.
        seconds: How long it took [s].
    """

    total: int
    outcomes: dict[Outcome, int]
    by_kind: dict[str, dict[Outcome, int]]
    seconds: float


@dataclass(frozen=True)
class Advised:
    """A set of checks to add, proved again with them in.

    Attributes:
        checks: The checks.
        caught: How many harmful slips they catch.
        left: How many they do not.
        seconds: What they cost [s].
        proved: Whether the procedure with them in was examined again and caught so many.
    """

    checks: tuple[Catch, ...]
    caught: int
    left: int
    seconds: float
    proved: bool


@dataclass(frozen=True)
class StepSafety:
    """How fast relief is after a step as written.

    Attributes:
        step: Its number.
        ways: By relief and company, the fastest way; None where there is none. In the order of
            `Examination.relief`.
        caught_here: How many single slips this step catches.
        harmful_here: How many single slips made at this step do harm uncaught.
    """

    step: int
    ways: tuple[FastestWay | None, ...]
    caught_here: int
    harmful_here: int


@dataclass(frozen=True)
class Examination:
    """All of it.

    Attributes:
        listed: The procedure, as written and exact.
        verdict: Proved when every claim is, once what is accepted is set aside.
        sentence: The verdict in one sentence.
        claims: Questions and answers.
        singles: Counts of single slips and breakdowns.
        pairs: Counts of pairs; None when they were not asked for.
        harmful_pairs: Some pairs of which neither slip alone does harm, in words.
        stories: Every harmful and latent single slip, worst first.
        states: State before each step as written, and at the end.
        relief: Names of the reliefs and companies of `steps`.
        steps: Step by step.
        ways: Ways out from every state that may be met.
        timing: Lanes, waiting, critical path.
        advised: The best sets of checks to add, one, two, three ... checks.
        authoring: What the author should look at.
        wording: What the wording rules say.
        total_risk: Of all harmful slips together; None where nothing is published.
        breakdown_pairs: Counts of pairs of a slip and a breakdown; None when not asked for.
        harmful_breakdown_pairs: Some of them of which neither alone does harm, in words.
        starts: For each lane the latest start [s], on a clock that is 0 when all has ended.
    """

    listed: Listed
    verdict: Verdict
    sentence: str
    claims: tuple[Claim, ...]
    singles: SlipCounts
    pairs: SlipCounts | None
    harmful_pairs: tuple[str, ...]
    stories: tuple[SlipStory, ...]
    states: tuple[State, ...]
    relief: tuple[str, ...]
    steps: tuple[StepSafety, ...]
    ways: tuple[WayOut, ...]
    timing: Timing
    advised: tuple[Advised, ...]
    authoring: tuple[AuthoringFinding, ...]
    wording: tuple[WordingFinding, ...]
    total_risk: Estimate | None
    breakdown_pairs: SlipCounts | None = None
    harmful_breakdown_pairs: tuple[str, ...] = ()
    starts: tuple[LaneStart, ...] = ()
