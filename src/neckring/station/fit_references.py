"""What a wearer's kept settings say of the suits, and is not so."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from neckring.station.fault import Fault, listed, quoted
from neckring.station.fields import did_you_mean
from neckring.station.nodes import Node, Step, path_words
from neckring.units import QuantityError, format_quantity, parse_quantity

Positions = Mapping[str, Node]


def fit_faults(suits: Mapping[str, Node], wearers: Mapping[str, Node]) -> Iterator[Fault]:
    """Hold each wearer's kept settings against the suits of the station.

    Args:
        suits: Tree of each file, with what a suit extends filled in.
        wearers: Tree of each file.
    """
    by_code = {node.text_of("code") or "": node for node in suits.values()}
    for wearer in wearers.values():
        kept = wearer.child("settings")
        for code in kept.entries if kept else ():
            if code not in by_code:
                accepted = f"the code of a suit of this station: {listed(sorted(by_code))}"
                hint = did_you_mean(code, tuple(by_code))
                yield _at_key(wearer, ("settings", code), accepted, hint)
            elif _whole(by_code[code]):
                yield from _position_faults(wearer, code, by_code[code])


def _whole(suit: Node) -> bool:
    """Whether a suit has what every suit has; if not, that is told where the suit is read."""
    return all(suit.child(key) for key in ("wall", "air", "battery"))


def _position_faults(wearer: Node, code: str, suit: Node) -> Iterator[Fault]:
    found, _ = wearer.find(("settings", code, "positions"))
    adjusters, _ = suit.find(("fit", "adjusters"))
    known = tuple(adjusters.entries) if adjusters else ()
    for name in found.entries if found else ():
        path: tuple[Step, ...] = ("settings", code, "positions", name)
        if name not in known:
            accepted = f"an adjuster of {code}: {listed(known) or 'it has none'}"
            yield _at_key(wearer, path, accepted, did_you_mean(name, known))
        else:
            yield from _no_position(wearer, path, suit, name)


def _no_position(wearer: Node, path: tuple[Step, ...], suit: Node, name: str) -> Iterator[Fault]:
    """Tell a setting that lies between the adjuster's positions."""
    node, spot = wearer.find(path)
    texts = [suit.text_of("fit", "adjusters", name, key) for key in ("from", "to", "step")]
    read = [_length(text) for text in (node.text if node else None, *texts)]
    if None in read:
        return
    setting, start, end, step = (value for value in read if value is not None)
    if end <= start or step <= 0.0:
        return  # told where the suit is read
    steps = (setting - start) / step
    if start - 1e-9 <= setting <= end + 1e-9 and abs(steps - round(steps)) < 1e-6:
        return
    accepted = f"a position of {name}: {texts[0]} to {texts[1]} in steps of {texts[2]}"
    near = min(max(start + round(steps) * step, start), end)
    hint = f'the nearest is "{format_quantity(near, "length", "mm")}"'
    text = quoted(node.text or "") if node else ""
    yield Fault(spot.file, spot.line, spot.column, path_words(path), text, accepted, hint)


def _length(text: str | None) -> float | None:
    try:
        return parse_quantity(text or "", "length").nominal
    except QuantityError:
        return None


def _at_key(root: Node, path: tuple[Step, ...], accepted: str, hint: str) -> Fault:
    spot = root.key_spot(path)
    read = quoted(str(path[-1]))
    return Fault(spot.file, spot.line, spot.column, path_words(path), read, accepted, hint)
