"""Who may write: a PIN for each part, sessions of paired devices, and no guessing.

Nothing here knows the network or the disk; the time comes in. Of a session only a digest is kept:
whoever reads the memory of the disk cannot act as a tablet.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from neckring.live.entries import Role

PIN_DIGITS = 6
TOKEN_BYTES = 32
"""256 bits drawn by the system: nobody guesses one (NIST SP 800-63B asks for 64 at least)."""

PARTS = (Role.LEAD, Role.TENDER, Role.MEDIC, Role.TRAINER, Role.WALL)

FREE_TRIES = 5
LONGEST_WAIT = 900.0
LONGEST_WAIT_HERE = 5.0
"""On the machine itself the lead is never kept out for longer: [s]."""
FREE_TRIES_IN_ALL = 30
LONGEST_WAIT_IN_ALL = 300.0
FORGOTTEN_AFTER = 3600.0
MOST_ADDRESSES = 4096
"""Wrong PINs are counted for so many addresses; a flood of others counts against all."""


def digest_of(token: str) -> str:
    """What is kept of a token. It is drawn, not chosen, so that one plain hash is enough."""
    return hashlib.sha256(token.encode()).hexdigest()


def guard_of(token: str) -> str:
    """The second token, which every write of a page must carry beside the cookie."""
    return hmac.new(token.encode(), b"write", hashlib.sha256).hexdigest()


def new_token() -> str:
    """Draw a token."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def new_pins() -> dict[Role, str]:
    """Draw a PIN for each part; no two are the same."""
    drawn: set[str] = set()
    while len(drawn) < len(PARTS):
        drawn.add(f"{secrets.randbelow(10**PIN_DIGITS):0{PIN_DIGITS}d}")
    return dict(zip(PARTS, secrets.SystemRandom().sample(sorted(drawn), len(drawn)), strict=True))


@dataclass(frozen=True)
class Session:
    """One paired device.

    Attributes:
        digest: Of its token.
        device: Its code on this run: "tablet-3".
        role: In which part it acts.
        person: Whose hands it is in; the part itself for a wall.
    """

    digest: str
    device: str
    role: Role
    person: str


class Sessions:
    """Every paired device; revoked ones are gone."""

    def __init__(self, kept: Iterable[Session] = (), most: int = 64) -> None:
        self._by_digest = {session.digest: session for session in kept}
        self._most = most

    def __iter__(self) -> Iterator[Session]:
        """Each one, as they are now."""
        return iter(tuple(self._by_digest.values()))

    def full(self) -> bool:
        """Whether no further device may be paired."""
        return len(self._by_digest) >= self._most

    def next_device(self) -> str:
        """A code that no device has and, drawn, none had."""
        return f"tablet-{secrets.token_hex(3)}"

    def add(self, device: str, role: Role, person: str) -> str:
        """Pair a device.

        Returns:
            Its token, which is told once and not kept.
        """
        token = new_token()
        session = Session(digest_of(token), device, role, person)
        self._by_digest[session.digest] = session
        return token

    def of(self, token: str | None) -> Session | None:
        """The session with a token, or None."""
        return self._by_digest.get(digest_of(token)) if token else None

    def revoke(self, device: str) -> bool:
        """Forget a device; tells whether there was one."""
        found = [s.digest for s in self._by_digest.values() if s.device == device]
        for digest in found:
            del self._by_digest[digest]
        return bool(found)


@dataclass(frozen=True)
class _Wrong:
    """Wrong PINs so far, and until when nobody is listened to [s]."""

    count: int = 0
    until: float = 0.0
    last: float = 0.0


@dataclass
class Throttle:
    """Guessing made slow: for each address, and for all of them together.

    After some free tries each further wrong PIN doubles the wait. On the machine itself it stays
    short and nobody else's guessing counts, so that the lead is never kept out.

    Attributes:
        wrong: Address to its wrong tries.
        in_all: Of every address but this machine's.
    """

    wrong: dict[str, _Wrong] = field(default_factory=dict)
    in_all: _Wrong = field(default_factory=_Wrong)

    def wait(self, address: str, here: bool, now: float) -> float:
        """How long this address must wait before it may try [s]; 0 for not at all."""
        own = self.wrong.get(address, _Wrong()).until - now
        return max(0.0, own if here else max(own, self.in_all.until - now))

    def failed(self, address: str, here: bool, now: float) -> None:
        """A wrong PIN came from an address."""
        self._forget(now)
        longest = LONGEST_WAIT_HERE if here else LONGEST_WAIT
        before = self.wrong.get(address, _Wrong())
        self.wrong[address] = _more(before, FREE_TRIES, longest, now)
        if not here:
            self.in_all = _more(self.in_all, FREE_TRIES_IN_ALL, LONGEST_WAIT_IN_ALL, now)

    def succeeded(self, address: str) -> None:
        """The right PIN came from an address; guessing by others is not forgiven for it."""
        self.wrong.pop(address, None)

    def clear(self) -> None:
        """The lead has looked into it: everybody may try again."""
        self.wrong.clear()
        self.in_all = _Wrong()

    def _forget(self, now: float) -> None:
        if now - self.in_all.last > FORGOTTEN_AFTER:
            self.in_all = _Wrong()
        old = [a for a, w in self.wrong.items() if now - w.last > FORGOTTEN_AFTER]
        for address in old:
            del self.wrong[address]
        while len(self.wrong) >= MOST_ADDRESSES:
            del self.wrong[min(self.wrong, key=lambda a: self.wrong[a].last)]


def _more(before: _Wrong, free: int, longest: float, now: float) -> _Wrong:
    count = before.count + 1
    wait = 0.0 if count < free else min(longest, 2.0 ** min(count - free, 30))
    return replace(before, count=count, until=now + wait, last=now)


def part_of(pin: str, pins: Mapping[Role, str]) -> Role | None:
    """Whose PIN this is; every one is compared, each in constant time."""
    found = None
    given = pin.encode()
    for role, right in pins.items():
        if hmac.compare_digest(given, right.encode()):
            found = role
    return found
