"""Rules that a single slip breaks with no check between: worked out once, and kept beside the run.

They give a caution its signal word. To work them out takes the compiled search, which takes longer
to import than the whole of a console that comes back may take; so they lie in a small file, under
the digest of everything that they follow from.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from neckring.procedure.listing import Listed
from neckring.whole_file import write_whole

Uncaught = Callable[[Listed, str], frozenset[str]]

_log = logging.getLogger(__name__)


def uncaught_rules(listed: Listed, digest: str = "") -> frozenset[str]:
    """Rules that some single slip breaks with no check between, as the proof's page has it.

    Args:
        listed: The procedure made exact.
        digest: Of what it was made from; not needed here.
    """
    from neckring.procedure.slip_endings import NotRunningError
    from neckring.procedure.slip_search import all_singles
    from neckring.procedure.slips import Outcome

    names = listed.procedure.rule_names
    try:
        found = all_singles(listed.procedure)
    except NotRunningError:
        return frozenset(listed.ground.kit.rules)
    return frozenset(
        names[each.rule].partition(" of ")[0]
        for each in found
        if each.outcome is Outcome.HARM and each.rule is not None
    )


@dataclass
class KeptRules:
    """The same, kept in a file: what is known there is not worked out again.

    Attributes:
        path: The file; one that cannot be read or written costs time and nothing else.
        version: Of what works them out; a file of another one counts for nothing.
    """

    path: Path
    version: str
    _known: dict[str, list[str]] = field(default_factory=dict)
    _new: bool = False

    def __post_init__(self) -> None:
        """Take up what the file says."""
        with suppress(OSError, ValueError, KeyError, TypeError):
            written = json.loads(self.path.read_text(encoding="utf-8"))
            if written["version"] == self.version:
                self._known = _checked(written["uncaught"])

    def uncaught(self, listed: Listed, digest: str) -> frozenset[str]:
        """Rules that some single slip of a procedure breaks with no check between.

        Args:
            listed: The procedure made exact.
            digest: Of the files from which it was made.
        """
        known = self._known.get(digest)
        if known is not None and set(known) <= set(listed.ground.kit.rules):
            return frozenset(known)
        found = uncaught_rules(listed)
        self._known[digest], self._new = sorted(found), True
        return found

    def keep(self) -> None:
        """Write down what was worked out since; the whole file, or the one before."""
        if not self._new:
            return
        told = {"version": self.version, "uncaught": self._known}
        try:
            write_whole(self.path, json.dumps(told, indent=1))
        except OSError as error:
            _log.warning("%s: %s; the next start takes longer", self.path, error.strerror)
        else:
            self._new = False


def _checked(written: Mapping[str, list[str]]) -> dict[str, list[str]]:
    """What a file says, as long as it is digests with lists of words.

    Raises:
        TypeError: It is something else.
    """
    for digest, rules in written.items():
        if not isinstance(digest, str) or not isinstance(rules, list):
            raise TypeError
        if not all(isinstance(rule, str) for rule in rules):
            raise TypeError
    return dict(written)
