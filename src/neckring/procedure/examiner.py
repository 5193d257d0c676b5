"""Examines a procedure: every question asked of every engine, and the answers put together."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from itertools import islice

from neckring.procedure import authoring, wording
from neckring.procedure.asked import Asked
from neckring.procedure.claims import Claims, sentence_of, whole_verdict
from neckring.procedure.courses import Drawing
from neckring.procedure.examination import Examination, SlipCounts
from neckring.procedure.listing import Listed, states_as_written
from neckring.procedure.relief import RELIEF, Relief
from neckring.procedure.slip_endings import Found, NotRunningError, Pairs
from neckring.procedure.slip_search import SlipSearch
from neckring.procedure.slips import Outcome
from neckring.procedure.stories import WRITTEN, Teller
from neckring.procedure.timing import latest_starts, times

MOST_PAIRS = 20
# For an author who waits: the spread of times is then only rough.
FEW_RUNS = Drawing(runs=500)


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


class _Examiner:
    """One examination."""

    def __init__(self, listed: Listed, asked: Asked, tell: Callable[[str], None]) -> None:
        self.listed = listed
        self.procedure = listed.procedure
        self.asked = asked
        self.tell = tell
        self.states = states_as_written(self.procedure)
        self.claims = Claims(listed, asked, tell)
        self.relief = Relief(listed, self.states, asked, tell)

    def examination(self) -> Examination:
        """Ask everything."""
        claims = [self.claims.as_written(), self.claims.every_order(), self.claims.discipline()]
        singles, spent = self.singles()
        teller = Teller(self.listed, singles, self.states)
        claims += self.claims.slip_claims(teller)
        pairs, harmful_pairs = self.pairs(teller)
        breakdown_pairs, harmful_breakdown_pairs = self.breakdown_pairs(teller)
        drawing = None if self.asked.ways else FEW_RUNS
        verdict = whole_verdict(claims)
        return Examination(
            listed=self.listed,
            verdict=verdict,
            sentence=sentence_of(verdict, claims),
            claims=tuple(claims),
            singles=_counted(teller.found, spent),
            pairs=pairs,
            harmful_pairs=harmful_pairs,
            stories=teller.stories,
            states=self.states,
            relief=tuple(f"{goal.value}, {company.value}" for goal, company in RELIEF),
            steps=self.relief.safety(teller),
            ways=self.relief.ways(),
            timing=times(self.procedure, drawing),
            advised=teller.advised(),
            authoring=(*self.claims.kit.authoring, *authoring.step_findings(self.listed)),
            wording=(
                *wording.procedure_findings(
                    self.listed.sheet, self.listed.ground.kit, critical=teller.critical
                ),
                *self.claims.kit.wording,
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
