"""What is done with a kit, and how it stands, in the kit's own words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from neckring.procedure.grounding import GroundKit
from neckring.procedure.model import State

if TYPE_CHECKING:
    from neckring.procedure.examination import Difference

PEOPLE = {"A": "wearer A", "B": "wearer B", "tender": "the tender"}


@dataclass(frozen=True)
class KitWords:
    """Words for the names of an exact model.

    Attributes:
        ground: The kit on its wearers.
    """

    ground: GroundKit

    def thing(self, number: int) -> str:
        """A thing and whose it is: "the helmet of wearer A"; with one wearer "the helmet"."""
        owner, _, name = self.ground.variables[number].name.rpartition(".")
        words = self.ground.kit.things[name].words
        return f"{words} of {PEOPLE[owner]}" if owner and len(self.ground.wearers) > 1 else words

    def state(self, number: int, value: int) -> str:
        """A state of a thing: "half home" is written half_home."""
        return self.ground.variables[number].states[value].replace("_", " ")

    def act(self, name: str) -> str:
        """A move or a breakdown by the name of its action."""
        head, _, half = name.partition(", ")
        if " on " in head:
            code, _, rest = head.partition(" on ")
            on, _, by = rest.partition(" by ")
            target = f" ({PEOPLE[on]})" if len(self.ground.wearers) > 1 else ""
            done = f"{PEOPLE[by]}: {self.ground.kit.moves[code].words}{target}"
            return f"{done}, {half}" if half else done
        code, _, on = head.partition(" of ")
        if code in self.ground.kit.breakdowns:
            target = f" ({PEOPLE[on]})" if len(self.ground.wearers) > 1 else ""
            return f"{self.ground.kit.breakdowns[code].words}{target}"
        return self.sign(head)

    def sign(self, name: str) -> str:
        """A look at a sign by the name of its step: "check: feel air on the face"."""
        code, _, on = name.partition(" of ")
        target = f" ({PEOPLE[on]})" if len(self.ground.wearers) > 1 else ""
        return f"check: {self.ground.kit.signs[code].words}{target}"

    def rule(self, name: str) -> str:
        """What is the case when a rule breaks."""
        code, _, on = name.partition(" of ")
        words = self.ground.kit.rules[code].words.rstrip(".")
        return f"{words} ({PEOPLE[on]})" if len(self.ground.wearers) > 1 else words

    def differences(self, nominal: State, slipped: State) -> tuple[Difference, ...]:
        """What stands otherwise in one state than in another."""
        from neckring.procedure.examination import Difference

        return tuple(
            Difference(self.thing(n), self.state(n, right), self.state(n, wrong))
            for n, (right, wrong) in enumerate(zip(nominal, slipped, strict=True))
            if right != wrong
        )
