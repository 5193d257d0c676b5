"""What is claimed of a procedure: each question, asked of its engine, with the answer in words."""

from __future__ import annotations

from collections.abc import Callable

from neckring.procedure import explicit
from neckring.procedure.asked import Asked
from neckring.procedure.examination import Claim
from neckring.procedure.findings import Bounds, Proof, Verdict
from neckring.procedure.interleaving import STUCK, every_order
from neckring.procedure.kit_known import known_of
from neckring.procedure.kit_words import KitWords
from neckring.procedure.listing import Listed
from neckring.procedure.model import Model, holds
from neckring.procedure.slip_endings import Found
from neckring.procedure.slip_oracle import nominal
from neckring.procedure.slips import Outcome, SlipKind
from neckring.procedure.stories import Teller

ORDERS = Bounds(states=5_000_000)


class Claims:
    """What is claimed of one procedure, one question after the other.

    Args:
        listed: The procedure.
        asked: How much is asked.
        tell: Told what is being done.
    """

    def __init__(self, listed: Listed, asked: Asked, tell: Callable[[str], None]) -> None:
        self.procedure = listed.procedure
        self.asked = asked
        self.tell = tell
        self.words = KitWords(listed.ground)
        self.kit = known_of(listed.ground.kit, asked.library)

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


def sentence_of(verdict: Verdict, claims: list[Claim]) -> str:
    """What all claims together come to, in one sentence."""
    first = next((claim for claim in claims if claim.verdict is verdict), claims[0])
    if verdict is Verdict.PROVED:
        return (
            "No order that the lanes allow, no single slip and no single breakdown does harm "
            "before somebody notices."
        )
    return f"{first.question} {first.words[:1].upper()}{first.words[1:]}."


def whole_verdict(claims: list[Claim]) -> Verdict:
    """The verdict of all claims together: the worst of them."""
    verdicts = {claim.verdict for claim in claims}
    for verdict in (Verdict.BROKEN, Verdict.NOT_DECIDED):
        if verdict in verdicts:
            return verdict
    return Verdict.PROVED
