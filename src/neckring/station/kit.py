"""kits/*.yaml: what a suit's kit is made of, what can be done with it, and what must never be.

Everything here is about one wearer unless it says otherwise; a procedure for two wearers takes
every thing of a wearer twice.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Literal

from pydantic import Field

from neckring.station.conditions import ALWAYS, ConditionKind, ConditionText
from neckring.station.fields import Code, Plain, Text, Word, YesNo
from neckring.station.labels import Labels, Tags, label_complaints
from neckring.station.lasting import Lasting, LastingKind
from neckring.station.measured import Measured
from neckring.station.pass_rule import PassRule, PassRuleKind
from neckring.station.written import Complaint, Written
from neckring.units import Quantity

Name = Annotated[str, Code()]
Condition = Annotated[ConditionText, ConditionKind()]
Changes = dict[Name, Name]
Doer = Literal["self", "partner", "tender"]
Sense = Literal["seen", "heard", "felt", "measured"]
Severity = Literal["death", "serious injury", "injury", "damage"]

HOLDS_ALWAYS = ConditionText("always", ALWAYS)
MOST_STATES = 16


def _always() -> ConditionText:
    return HOLDS_ALWAYS


class Thing(Written):
    """A part of the kit, or a person, and the states it may be in.

    Attributes:
        words: What it is called, in every line of every sheet.
        states: At least two.
        start: The state before anything is done; the first one when left out.
        of: Whether each wearer has one, or all share it.
        pieces: How many pieces are counted out and in; None when it is not counted.
    """

    words: Annotated[str, Text(60)]
    states: tuple[Name, ...] = Field(min_length=2, max_length=MOST_STATES)
    start: Name | None = None
    of: Annotated[Literal["wearer", "all"], Word()] = "wearer"
    pieces: Annotated[int | None, Plain(1, 99, whole=True)] = None

    @property
    def starts(self) -> str:
        """The state before anything is done."""
        return self.start or self.states[0]

    def disagreements(self) -> Iterable[Complaint]:
        """States twice, and a start that is none of them."""
        for place, state in enumerate(self.states):
            if state in self.states[:place]:
                yield Complaint(("states", place), "each state once")
        if self.start is not None and self.start not in self.states:
            yield Complaint(("start",), f"one of its states: {', '.join(self.states)}")


class Move(Written):
    """Something that can be done with the kit.

    Attributes:
        words: As a sentence to somebody, beginning with a verb: "lock the helmet".
        by: Who can do it: the wearer alone (self), another wearer (partner), a tender.
        needs: What must physically hold; without it the move cannot be done.
        actor_needs: The same of a wearer who does it, on that wearer's own things.
        only_if: What the team keeps to: with it nobody does the move, although it could be done.
        changes: Things and the states they then have.
        half: What is left when it is not done fully.
        kind: Moves of one kind may be mistaken for one another.
        takes: How long.
        hands: How many hands it takes.
        shows: The sign by which one knows that it is done.
        when_stopped: Whether it may be done while the run is stopped, since it brings relief.
    """

    words: Annotated[str, Text(120)]
    by: tuple[Annotated[Doer, Word()], ...] = Field(min_length=1, max_length=3)
    needs: Condition = Field(default_factory=_always)
    actor_needs: Condition = Field(default_factory=_always)
    only_if: Condition = Field(default_factory=_always)
    changes: Changes = Field(min_length=1)
    half: Changes | None = None
    kind: Name | None = None
    takes: Annotated[Lasting, LastingKind()]
    hands: Annotated[int, Plain(1, 4, whole=True)] = 1
    shows: Name | None = None
    when_stopped: Annotated[bool, YesNo()] = False


class Sign(Written):
    """What shows how something stands: it is there whenever its condition holds.

    Attributes:
        words: In words that follow "you": "feel air on the face".
        when: When it is there.
        sense: How it is noticed.
        by: Who can notice it.
        kind: Signs of one kind may be mistaken for one another.
        takes: How long a look takes.
        reads: What the instrument must show; None where none is read.
    """

    words: Annotated[str, Text(120)]
    when: Condition
    sense: Annotated[Sense, Word()]
    by: tuple[Annotated[Doer, Word()], ...] = Field(min_length=1, max_length=3)
    kind: Name | None = None
    takes: Annotated[Lasting, LastingKind()]
    reads: Annotated[PassRule | None, PassRuleKind()] = None

    def disagreements(self) -> Iterable[Complaint]:
        """Figures of an instrument that nobody reads."""
        if self.reads is not None and self.sense != "measured":
            yield Complaint(("reads",), "nothing here unless its sense is measured")


class Rule(Written):
    """What must never hold, or never for longer than a time.

    Attributes:
        words: What is then the case, as a sentence.
        never: The condition.
        longer_than: It may hold for so long; without it, not at all.
        clock: Code of the failure in a plan whose harm clock says for how long; the shorter of
            both counts.
        harm: What it can do to somebody or something.
        hazard: What the danger is.
        consequence: What happens.
        avoid: How it is avoided.
    """

    words: Annotated[str, Text(160)]
    never: Condition
    longer_than: Annotated[Quantity | None, Measured("time", "1 s", "2 h", spread=False)] = None
    clock: Name | None = None
    harm: Annotated[Severity, Word()]
    hazard: Annotated[str, Text(160)]
    consequence: Annotated[str, Text(160)]
    avoid: Annotated[str, Text(160)]

    def disagreements(self) -> Iterable[Complaint]:
        """A harm clock for what must not hold at all."""
        if self.clock is not None and self.longer_than is None:
            yield Complaint(("clock",), "only beside longer_than, which counts without a plan")


class Breakdown(Written):
    """What the kit may do by itself.

    Attributes:
        words: What happens, as a sentence.
        needs: When it can.
        changes: Things and the states they then have.
        plan: Code of the failure in a plan that it stands for.
    """

    words: Annotated[str, Text(160)]
    needs: Condition = Field(default_factory=_always)
    changes: Changes = Field(min_length=1)
    plan: Name | None = None


class Relief(Written):
    """What help must reach, as conditions on one wearer.

    Attributes:
        inside: The wearer is in the suit.
        fresh_air: There is fresh air at the face.
        out: The wearer is out of the suit.
        cooling: The wearer is cooled; None when the kit cannot tell.
    """

    inside: Condition
    fresh_air: Condition
    out: Condition
    cooling: Annotated[ConditionText | None, ConditionKind()] = None


class Kit(Written):
    """The kit of one kind of suit.

    Attributes:
        sent_out_by: Code of the procedure at whose end the wearer is out on the pack: from there
            a plan takes what help takes.
        blind_to: What this model cannot see, for the report.
        labels: What is to be read on the kit.
        tags: What tells its hoses, lines, cables and valves apart.
    """

    code: Name
    title: Annotated[str, Text(120)]
    about: Annotated[str | None, Text(1000)] = None
    things: dict[Name, Thing] = Field(min_length=1, max_length=60)
    conditions: dict[Name, Condition] = Field(default_factory=dict)
    moves: dict[Name, Move] = Field(min_length=1, max_length=200)
    signs: dict[Name, Sign] = Field(default_factory=dict)
    rules: dict[Name, Rule] = Field(default_factory=dict)
    breakdowns: dict[Name, Breakdown] = Field(default_factory=dict)
    relief: Relief
    sent_out_by: Name | None = None
    blind_to: tuple[Annotated[str, Text(200)], ...] = ()
    labels: Labels = Field(default_factory=dict)
    tags: Tags = Field(default_factory=dict)

    def disagreements(self) -> Iterable[Complaint]:
        """Tags that look alike, and labels on nothing."""
        yield from label_complaints(self.labels, self.tags, self.things)
