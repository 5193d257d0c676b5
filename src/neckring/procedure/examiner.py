"""Examines a procedure: every question asked of every engine, and the answers put together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import islice

from neckring.procedure import authoring, explicit, symbolic, wording
from neckring.procedure.authoring import AuthoringFinding
from neckring.procedure.courses import Drawing
from neckring.procedure.examination import (
    Claim,
    Examination,
    SlipCounts,
    StepSafety,
)
from neckring.procedure.findings import Bounds, Proof, Verdict
from neckring.procedure.grounding import GroundKit, ground
from neckring.procedure.interleaving import STUCK, every_order
from neckring.procedure.kit_words import KitWords
from neckring.procedure.listing import Listed, states_as_written
from neckring.procedure.model import Model, State, holds
from neckring.procedure.slip_oracle import nominal
from neckring.procedure.slip_search import Found, NotRunningError, Pairs, SlipSearch
from neckring.procedure.slips import Outcome, SlipKind
from neckring.procedure.stories import WRITTEN, Teller
from neckring.procedure.timing import latest_starts, times
from neckring.procedure.way_out import Company, FastestWay, Goal, WayOut, WaysOut
from neckring.procedure.wording import WordingFinding
from neckring.station.kit import Kit

ORDERS = Bounds(states=5_000_000)
MOST_PAIRS = 20
# For an author who waits: the spread of times is then only rough.
FEW_RUNS = Drawing(runs=500)
# Relief told for each step: fresh air by everybody, out of the suit with a tender.
RELIEF = (
    (Goal.FRESH_AIR, Company.ALONE),
    (Goal.FRESH_AIR, Company.PARTNER),
    (Goal.FRESH_AIR, Company.TENDER),
    (Goal.OUT, Company.TENDER),
)


@dataclass(frozen=True)
class Asked:
    """How much is asked.

    Attributes:
        pairs: Whether pairs of slips are examined.
        ways: Whether ways out are, and slips together with breakdowns: what takes longest.
        library: Of decision diagrams; empty takes the better one.
        clock: Seconds since some instant, to tell how long each answer took.
    """

    pairs: bool = True
    ways: bool = True
    library: str = ""
    clock: Callable[[], float] = lambda: 0.0


def examine(
    listed: Listed, asked: Asked | None = None, tell: Callable[[str], None] = lambda _: None
) -> Examination:
    """Ask everything of a procedure.

    Args:
        listed: The procedure.
        asked: How much.
        tell: Told what is being done, for a person who waits.
    """
    return _Examiner(listed, asked or Asked(), tell).examination()


class KitKnown:
    """What is known of a kit whatever procedure is done with it; worked out when first asked for.

    Args:
        kit: As written.
        library: Of decision diagrams.
    """

    def __init__(self, kit: Kit, library: str) -> None:
        self.written = kit
        self.library = library

    @cached_property
    def model(self) -> Model:
        """One wearer's kit, everybody keeping to what the team keeps to."""
        return ground(self.written).model(disciplined=True)

    @cached_property
    def proof(self) -> Proof:
        """No rule breaks in any order, as long as the team keeps to its own conditions."""
        return symbolic.prove(self.model, library=self.library, counted=False)

    @cached_property
    def authoring(self) -> tuple[AuthoringFinding, ...]:
        """What its author should look at."""
        return tuple(authoring.kit_findings(ground(self.written)))

    @cached_property
    def wording(self) -> tuple[WordingFinding, ...]:
        """What the wording rules say."""
        return tuple(wording.kit_findings(self.written))


_KNOWN: list[KitKnown] = []
MOST_KNOWN = 8


def known_of(kit: Kit, library: str) -> KitKnown:
    """What is known of a kit; the same again for the very same kit, as when a file is watched."""
    for known in _KNOWN:
        if known.written is kit and known.library == library:
            return known
    _KNOWN.append(KitKnown(kit, library))
    del _KNOWN[:-MOST_KNOWN]
    return _KNOWN[-1]


class _Examiner:
    """One examination."""

    def __init__(self, listed: Listed, asked: Asked, tell: Callable[[str], None]) -> None:
        self.listed = listed
        self.procedure = listed.procedure
        self.asked = asked
        self.tell = tell
        self.words = KitWords(listed.ground)
        self.states = states_as_written(self.procedure)
        self.kit = known_of(listed.ground.kit, asked.library)

    def examination(self) -> Examination:
        """Ask everything."""
        claims = [self.as_written(), self.every_order(), self.discipline()]
        singles, spent = self.singles()
        teller = Teller(self.listed, singles, self.states)
        claims += self.slip_claims(teller)
        pairs, harmful_pairs = self.pairs(teller)
        breakdown_pairs, harmful_breakdown_pairs = self.breakdown_pairs(teller)
        drawing = None if self.asked.ways else FEW_RUNS
        verdict = _whole(claims)
        return Examination(
            listed=self.listed,
            verdict=verdict,
            sentence=_sentence(verdict, claims),
            claims=tuple(claims),
            singles=_counted(teller.found, spent),
            pairs=pairs,
            harmful_pairs=harmful_pairs,
            stories=teller.stories,
            states=self.states,
            relief=tuple(f"{goal.value}, {company.value}" for goal, company in RELIEF),
            steps=self.safety(teller),
            ways=self.ways(),
            timing=times(self.procedure, drawing),
            advised=teller.advised(),
            authoring=(*self.kit.authoring, *authoring.step_findings(self.listed)),
            wording=(
                *wording.procedure_findings(
                    self.listed.sheet, self.listed.ground.kit, critical=teller.critical
                ),
                *self.kit.wording,
            ),
            total_risk=teller.total_risk,
            breakdown_pairs=breakdown_pairs,
            harmful_breakdown_pairs=harmful_breakdown_pairs,
            starts=latest_starts(self.procedure, 0.0, drawing),
        )

    @cached_property
    def search(self) -> SlipSearch:
        """The procedure made ready for the compiled walk, once."""
        return SlipSearch(self.procedure)

    def singles(self) -> tuple[tuple[Found, ...], float]:
        """Every single slip and breakdown; none when the procedure does not run as written."""
        self.tell("every single slip and breakdown")
        begun = self.asked.clock()
        try:
            found = self.search.singles()
        except NotRunningError:
            found = ()
        return found, self.asked.clock() - begun

    def as_written(self) -> Claim:
        """Does it run as written?"""
        found = nominal(self.procedure)
        question = "Does it run as written, to its end?"
        if found.outcome is Outcome.HARMLESS and holds(self.procedure.ends, found.end):
            words = f"all {len(self.procedure.steps)} steps can be done, every check passes"
            return Claim(question, Verdict.PROVED, words, engine="plain Python")
        number = self.procedure.steps[found.step].number if found.step is not None else 0
        what = {
            Outcome.BLOCKED: f"step {number} cannot be done",
            Outcome.CAUGHT: f"the check at step {number} fails",
            Outcome.HARM: f"at step {number} {self.rule_words(found.rule)}",
        }.get(found.outcome, "it does not end as it says")
        return Claim(question, Verdict.BROKEN, what, engine="plain Python")

    def rule_words(self, number: int | None) -> str:
        """What is the case when a rule breaks, by its number in a sequence."""
        return self.words.rule(self.procedure.rule_names[number or 0])

    def every_order(self) -> Claim:
        """Does any order that the lanes allow break a rule, or leave somebody stuck?"""
        self.tell("every order that the lanes allow")
        question = "Does every order that the lanes allow keep the rules and come to the end?"
        model = every_order(self.procedure)
        begun = self.asked.clock()
        proof = explicit.prove(model, ORDERS)
        spent = self.asked.clock() - begun
        words = f"all {proof.states:,} places of all lanes together keep every rule"
        return self.claim(question, model, proof, words, spent, "compiled search")

    def discipline(self) -> Claim:
        """Whatever the order, does a rule break while all keep to what the team keeps to?"""
        self.tell("the kit in whatever order")
        question = "Whatever is done in whatever order, if the team keeps to its own conditions?"
        begun = self.asked.clock()
        proof = self.kit.proof
        spent = self.asked.clock() - begun
        words = f"no rule breaks in any of {proof.states:,} states of one wearer's kit"
        return self.claim(question, self.kit.model, proof, words, spent, "decision diagrams")

    def claim(
        self, question: str, model: Model, proof: Proof, words: str, spent: float, engine: str
    ) -> Claim:
        """An engine's answer in words."""
        if proof.verdict is Verdict.NOT_DECIDED:
            return Claim(question, proof.verdict, proof.bound, (), proof.states, spent, engine)
        if proof.broken is None:
            return Claim(question, proof.verdict, words, (), proof.states, spent, engine)
        trace = tuple(self.act_words(model.actions[n].name) for n in proof.broken.trace)
        rule = model.rules[proof.broken.rule].name
        what = STUCK if rule == STUCK else self.words.rule(rule)
        said = f"{what}, after {len(trace)} acts"
        return Claim(question, proof.verdict, said, trace, proof.states, spent, engine)

    def act_words(self, name: str) -> str:
        """An act of any model, in words."""
        number, colon, rest = name.partition(": ")
        if colon and number.isdecimal():
            return f"step {number}: {'meet' if rest == 'meet' else self.words.act(rest)}"
        return self.words.act(name)

    def slip_claims(self, teller: Teller) -> list[Claim]:
        """Single slips of people, and single breakdowns of the kit."""
        return [
            self.slip_claim(
                teller, False, "Is every single slip harmless, or noticed before harm?"
            ),
            self.slip_claim(
                teller,
                True,
                "Is every single breakdown of the kit harmless, or noticed before harm?",
            ),
        ]

    def slip_claim(self, teller: Teller, of_kit: bool, question: str) -> Claim:
        """Those of people, or those of the kit."""

        def those(found: list[Found]) -> list[Found]:
            return [f for f in found if (f.deviation.kind is SlipKind.FAILURE) == of_kit]

        gone_through, harmful = those(teller.found), those(teller.harmful)
        if not gone_through and teller.found:
            words = "none can happen in any of its states"
            return Claim(question, Verdict.PROVED, words, engine="compiled slips")
        if not gone_through:
            words = "it does not run as written, so that slips say nothing"
            return Claim(question, Verdict.NOT_DECIDED, words, engine="compiled slips")
        left = those(teller.open_harm)
        words = f"{len(gone_through)} gone through; {len(left) or 'none'} unnoticed before harm"
        if len(harmful) > len(left):
            words += f"; {len(harmful) - len(left)} more accepted, signed and dated"
        trace = tuple(teller.slip_words(f.deviation) for f in left[:1])
        verdict = Verdict.BROKEN if left else Verdict.PROVED
        return Claim(question, verdict, words, trace, engine="compiled slips")

    def pairs(self, teller: Teller) -> tuple[SlipCounts | None, tuple[str, ...]]:
        """Every pair of slips, and some of which neither slip alone does harm."""
        if not self.asked.pairs or not teller.found:
            return None, ()
        self.tell("every pair of slips")
        begun = self.asked.clock()
        found = self.search.pairs()
        counts = _pair_counts(found, self.asked.clock() - begun)
        return counts, self.needing_both(found, teller)

    def breakdown_pairs(self, teller: Teller) -> tuple[SlipCounts | None, tuple[str, ...]]:
        """Every slip together with every breakdown, and some of which neither alone does harm."""
        asked = self.asked.pairs and self.asked.ways
        if not asked or not teller.found or not self.procedure.failures:
            return None, ()
        self.tell("every slip together with every breakdown")
        begun = self.asked.clock()
        found = self.search.pairs_with_failure()
        counts = _pair_counts(found, self.asked.clock() - begun)
        return counts, self.needing_both(found, teller)

    def needing_both(self, found: Pairs, teller: Teller) -> tuple[str, ...]:
        """Some harmful pairs of which neither alone does harm, in words."""
        alone = {each.deviation for each in teller.harmful}
        both = (pair for pair in found.harmful if not alone & set(pair))
        return tuple(
            "; and ".join(teller.slip_words(each) for each in pair)
            for pair in islice(both, MOST_PAIRS)
        )

    def ways(self) -> tuple[WayOut, ...]:
        """Ways out of one wearer's kit, from all states that may be met."""
        if not self.asked.ways:
            return ()
        self.tell("ways out from every state that may be met")
        one = WaysOut(ground(self.listed.ground.kit, 1), "A", self.asked.library)
        return tuple(
            found
            for goal in (Goal.FRESH_AIR, Goal.OUT)
            for company in (Company.ALONE, Company.TENDER)
            if (found := one.way_out(goal, company)) is not None
        )

    def safety(self, teller: Teller) -> tuple[StepSafety, ...]:
        """Step by step: the way out, and what is caught and missed there."""
        ways = self.ways_from_steps()
        caught = [0] * len(self.procedure.steps)
        harmful = [0] * len(self.procedure.steps)
        for single in teller.found:
            if single.outcome is Outcome.CAUGHT and single.step is not None:
                caught[single.step] += 1
        for single in teller.open_harm:
            harmful[single.deviation.position] += 1
        return tuple(
            StepSafety(step.number, ways[place], caught[place], harmful[place])
            for place, step in enumerate(self.procedure.steps)
        )

    def ways_from_steps(self) -> list[tuple[FastestWay | None, ...]]:
        """After each step as written, for each relief, the way of the wearer who needs longest."""
        after_steps = self.states[1:]
        if not self.asked.ways:
            return [() for _ in after_steps]
        self.tell("ways out after every step")
        of_wearers = [self.ways_of(wearer) for wearer in self.listed.ground.wearers]
        return [
            tuple(
                _slowest([ways[relief][n] for ways in of_wearers]) for relief in range(len(RELIEF))
            )
            for n in range(len(after_steps))
        ]

    def ways_of(self, wearer: str) -> list[list[FastestWay | None]]:
        """For each relief the fastest way of one wearer after each step."""
        library, of_all = self.asked.library, self.listed.ground
        # Without a partner the other wearer's kit does not matter, and is left out.
        own = ground(of_all.kit, 1)
        alone, both = WaysOut(own, "A", library), WaysOut(of_all, wearer, library)
        own_states = [own_part(of_all, state, wearer, own) for state in self.states[1:]]
        return [
            both.fastest(goal, company, self.states[1:])
            if company is Company.PARTNER
            else alone.fastest(goal, company, own_states)
            for goal, company in RELIEF
        ]


def own_part(of_all: GroundKit, state: State, wearer: str, own: GroundKit) -> State:
    """What a state of several wearers is for one of them, taken as wearer A."""
    return tuple(
        state[of_all.numbers[variable.name.replace("A.", f"{wearer}.", 1)]]
        for variable in own.variables
    )


def _slowest(ways: list[FastestWay | None]) -> FastestWay | None:
    """The longest of several ways; none is longer than any."""
    if any(way is None for way in ways):
        return None
    return max((way for way in ways if way), key=lambda way: way.duration.likely)


def _sentence(verdict: Verdict, claims: list[Claim]) -> str:
    first = next((claim for claim in claims if claim.verdict is verdict), claims[0])
    if verdict is Verdict.PROVED:
        return (
            "No order that the lanes allow, no single slip and no single breakdown does harm "
            "before somebody notices."
        )
    return f"{first.question} {first.words[:1].upper()}{first.words[1:]}."


def _whole(claims: list[Claim]) -> Verdict:
    verdicts = {claim.verdict for claim in claims}
    for verdict in (Verdict.BROKEN, Verdict.NOT_DECIDED):
        if verdict in verdicts:
            return verdict
    return Verdict.PROVED


def _counted(found: list[Found], spent: float) -> SlipCounts:
    outcomes = dict.fromkeys(Outcome, 0)
    by_kind: dict[str, dict[Outcome, int]] = {}
    for each in found:
        of_kind = by_kind.setdefault(WRITTEN[each.deviation.kind], dict.fromkeys(Outcome, 0))
        of_kind[each.outcome] += 1
        outcomes[each.outcome] += 1
    return SlipCounts(len(found), outcomes, by_kind, spent)


def _pair_counts(found: Pairs, spent: float) -> SlipCounts:
    outcomes = {o: found.outcomes[o] + found.settled_by_first[o] for o in Outcome}
    return SlipCounts(sum(outcomes.values()), outcomes, {}, spent)
