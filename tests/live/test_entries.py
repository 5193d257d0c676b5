"""What the log book may hold is written down whole, and stamps are kept to the last figure."""

from __future__ import annotations

import ast
import inspect
import re
from itertools import pairwise

import pytest
from demo_day import Hands
from hypothesis import given
from hypothesis import strategies as st

from neckring.live import entries
from neckring.live.bodies import FORMS
from neckring.live.chain import empty, entry_of, next_row
from neckring.live.entries import Deed, Kind, Role, Stamp
from neckring.live.run_clock import RunClock


def written_down() -> dict[str, str]:
    """Each kind's own words, by its value."""
    tree = ast.parse(inspect.getsource(entries))
    kinds = next(n for n in tree.body if isinstance(n, ast.ClassDef) and n.name == "Kind")
    return {
        name.value.value: words.value.value
        for name, words in pairwise(kinds.body)
        if isinstance(name, ast.Assign)
        and isinstance(name.value, ast.Constant)
        and isinstance(words, ast.Expr)
        and isinstance(words.value, ast.Constant)
    }


@pytest.mark.parametrize("kind", FORMS)
def test_every_key_that_a_body_may_have_is_written_beside_its_kind(kind: Kind) -> None:
    words = written_down()[kind.value]
    missing = [key for key in FORMS[kind] if not re.search(rf"\b{key}\b", words)]
    assert missing == []


def test_every_kind_says_what_its_body_is() -> None:
    assert set(written_down()) == {kind.value for kind in Kind}


@given(
    st.lists(
        st.tuples(st.floats(1e-9, 10.0), st.floats(-4000.0, 4000.0), st.floats(1.0, 20.0)),
        max_size=40,
    )
)
def test_stamps_in_the_book_are_in_order_and_those_that_were_made(moves) -> None:
    # Given a run whose wall clock is set at will and whose speed changes, as a rehearsal's does
    hands = Hands(wall=1.8e9)
    clock, head, made = RunClock(hands.sources), empty("desk"), []
    for passed, wall, speed in moves:
        hands.pass_time(passed)
        hands.wall += wall
        clock.set_speed(speed)
        made.append(clock.stamp())
    # When they are written down and read again
    read = []
    for number, stamp in enumerate(made):
        deed = Deed(f"k{number}", Kind.NOTE, "L1", Role.LEAD, "t", {"words": "x"})
        row = next_row(head, deed, stamp)
        read.append(entry_of(row).stamp)
    # Then not a figure is lost, and neither clock that nobody sets ever goes back
    assert read == made
    for before, after in pairwise(read):
        assert after.run_time >= before.run_time
        assert after.monotonic >= before.monotonic
    # And a console that comes back by what it read goes on from there
    if read:
        again = RunClock(hands.sources, read[-1], "first start", counts_while_down=False)
        assert again.stamp() == Stamp(hands.wall, hands.monotonic, made[-1].run_time)
