"""What is known of a kit whatever procedure is done with it."""

from __future__ import annotations

from functools import cached_property

from neckring.procedure import authoring, symbolic, wording
from neckring.procedure.authoring import AuthoringFinding
from neckring.procedure.findings import Proof
from neckring.procedure.grounding import ground
from neckring.procedure.model import Model
from neckring.procedure.wording import WordingFinding
from neckring.station.kit import Kit


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
