"""The compiled search: every state once, breadth first, from tables alone.

Reached states are kept in a set with open addressing. States that agree in all but the lowest
LEAF bits share an entry: their common key and one bit for each of them. A search goes mostly
between neighbours, so the set is small and what it looks up next is mostly in the cache.
"""

from __future__ import annotations

import numpy as np
from numpy import int32, int64, uint64
from numpy.typing import NDArray

from neckring.compiled import compiled

Words = NDArray[uint64]
Numbers = NDArray[int64]

# How a search ended.
EVERYTHING = 0
RULE_BROKEN = 1
TOO_MANY_STATES = 2
TOO_MANY_LAYERS = 3

NO_RULE = 1 << 30
LEAF = 6
LEAF_SHIFT = uint64(LEAF)
LEAF_MASK = uint64((1 << LEAF) - 1)
ZERO = uint64(0)
ONE = uint64(1)
FULL = uint64(0xFFFFFFFFFFFFFFFF)
HALF_WORD = uint64(32)
SCATTER = uint64(0x9E3779B97F4A7C15)
SCATTER_AGAIN = uint64(0xD6E8FEB86659FD93)
LOWEST_SHIFT = uint64(58)
SEQUENCE = uint64(0x03F79D71B4CB0A89)
FIRST_SLOTS = 1 << 12


def _lowest_places() -> Words:
    places = np.zeros(64, np.int64)
    for place in range(64):
        places[(int(SEQUENCE) << place & int(FULL)) >> 58] = place
    return places


# Source: Leiserson, Prokop and Randall 1998, Using de Bruijn sequences to index a 1 in a computer
# word (from memory).
PLACES = _lowest_places()


@compiled
def scattered(key: uint64, second: uint64) -> uint64:
    """A key's bits mixed so that any of them may serve as an address."""
    mixed = (key ^ (second * SCATTER_AGAIN)) * SCATTER
    mixed ^= mixed >> HALF_WORD
    mixed *= SCATTER_AGAIN
    return mixed ^ (mixed >> HALF_WORD)


@compiled
def evaluate(
    first: uint64,
    second: uint64,
    first_groups: int,
    shift: Words,
    mask: Words,
    base: Words,
    rows: Words,
    members: Words,
    kept: Words,
    bits: Words,
) -> None:
    """Fill `bits`, shape (words,), with the conditions that hold in a state.

    Args from `first_groups` to `kept` as in `neckring.procedure.packing.PackedTables`.
    """
    words = rows.shape[1]
    for word in range(words):
        bits[word] = FULL
    for group in range(first_groups):
        row = base[group] + ((first >> shift[group]) & mask[group])
        for word in range(words):
            bits[word] &= rows[row, word]
    for group in range(first_groups, shift.shape[0]):
        row = base[group] + ((second >> shift[group]) & mask[group])
        for word in range(words):
            bits[word] &= rows[row, word]
    for gate in range(members.shape[0]):
        some = ZERO
        for word in range(words):
            some |= bits[word] & members[gate, word]
        if some == ZERO:
            for word in range(words):
                bits[word] &= kept[gate, word]


@compiled
def lowest(bits: uint64) -> int:
    """Place of the lowest bit set, of a word that is not zero."""
    return PLACES[((bits & (~bits + ONE)) * SEQUENCE) >> LOWEST_SHIFT]


@compiled
def grown(entries: Words, stride: int) -> Words:
    """A set's entries in four times the room, shape (slots x stride,)."""
    slots = entries.shape[0] // stride
    wider = np.zeros(4 * slots * stride, np.uint64)
    last = uint64(4 * slots - 1)
    for slot in range(slots):
        old = slot * stride
        if entries[old] == ZERO:
            continue
        second = entries[old + 2] if stride == 3 else ZERO
        place = scattered(entries[old + 1], second) & last
        while wider[place * uint64(stride)] != ZERO:
            place = (place + ONE) & last
        for part in range(stride):
            wider[place * uint64(stride) + uint64(part)] = entries[old + part]
    return wider


@compiled
def longer(numbers: Words, size: int) -> Words:
    """The same numbers in more room."""
    more = np.empty(size, numbers.dtype)
    more[: numbers.shape[0]] = numbers
    return more


@compiled
def add(entries: Words, stride: int, first: uint64, second: uint64) -> int:
    """Put a state into the set.

    Returns:
        0 when it was there, 1 when it is new beside neighbours, 2 when it took a new entry.
    """
    wide = uint64(stride)
    last = uint64(entries.shape[0] // stride - 1)
    key = first >> LEAF_SHIFT
    leaf = ONE << (first & LEAF_MASK)
    place = scattered(key, second) & last
    while True:
        at = place * wide
        there = entries[at]
        if there == ZERO:
            entries[at] = leaf
            entries[at + ONE] = key
            if stride == 3:
                entries[at + ONE + ONE] = second
            return 2
        if entries[at + ONE] == key and (stride == 2 or entries[at + ONE + ONE] == second):
            if there & leaf:
                return 0
            entries[at] = there | leaf
            return 1
        place = (place + ONE) & last


@compiled
def explore(
    start: Words,
    stride: int,
    most_states: int,
    most_layers: int,
    first_groups: int,
    shift: Words,
    mask: Words,
    base: Words,
    guard_rows: Words,
    guard_members: Words,
    guard_kept: Words,
    action_count: int,
    changes: Words,
    rule_rows: Words,
    rule_members: Words,
    rule_kept: Words,
    rule_count: int,
) -> tuple[Numbers, Words, NDArray[int32]]:
    """Search breadth first.

    Args:
        start: Both words of the state at the start, shape (2,).
        stride: Numbers in an entry of the set: 2, or 3 when states take two words.
        most_states: Bound.
        most_layers: Bound.
        first_groups: As in `neckring.procedure.packing.PackedTables`, and so on.
        shift: Of each group.
        mask: Of each group.
        base: Of each group.
        guard_rows: Of the actions' guards.
        guard_members: Of their gates.
        guard_kept: Of their gates.
        action_count: How many actions; their bits come first.
        changes: Bits kept and set by each action, shape (actions, 4).
        rule_rows: Of the rules.
        rule_members: Of their gates.
        rule_kept: Of their gates.
        rule_count: How many rules; their bits come first.

    Returns:
        How it ended, states, transitions, depth, rule broken, number of the state that breaks it;
        then the states in the order reached, and of each the number of the one it was reached
        from.
    """
    width = stride - 1
    entries = np.zeros(FIRST_SLOTS * stride, np.uint64)
    queue = np.empty(FIRST_SLOTS * width, np.uint64)
    parents = np.empty(FIRST_SLOTS, np.int32)
    guards = np.empty(guard_rows.shape[1], np.uint64)
    broken = np.empty(rule_rows.shape[1], np.uint64)
    found = np.zeros(6, np.int64)
    queue[0] = start[0]
    if width == 2:
        queue[1] = start[1]
    parents[0] = -1
    add(entries, stride, start[0], start[1])
    count, used, transitions, depth = 1, 1, 0, 0
    worst, worst_at = NO_RULE, -1
    begin, end = 0, 1
    checked = 0
    ending = EVERYTHING
    last_words = (action_count + 63) // 64
    last_mask = FULL >> uint64(last_words * 64 - action_count) if action_count else ZERO
    while begin < end and ending == EVERYTHING:
        while checked < count:
            first = queue[checked * width]
            second = queue[checked * width + 1] if width == 2 else ZERO
            evaluate(
                first,
                second,
                first_groups,
                shift,
                mask,
                base,
                rule_rows,
                rule_members,
                rule_kept,
                broken,
            )
            rule = 0
            while rule < min(rule_count, worst):
                if broken[rule >> 6] >> uint64(rule & 63) & ONE:
                    worst, worst_at = rule, checked
                rule += 1
            checked += 1
        for number in range(begin, end):
            if 2 * (used + action_count) > entries.shape[0] // stride:
                entries = grown(entries, stride)
            if count + action_count > parents.shape[0]:
                room = 2 * parents.shape[0] + action_count
                parents = longer(parents, room)
                queue = longer(queue, room * width)
            first = queue[number * width]
            second = queue[number * width + 1] if width == 2 else ZERO
            evaluate(
                first,
                second,
                first_groups,
                shift,
                mask,
                base,
                guard_rows,
                guard_members,
                guard_kept,
                guards,
            )
            for word in range(last_words):
                waiting = guards[word] & (last_mask if word == last_words - 1 else FULL)
                while waiting:
                    action = word * 64 + lowest(waiting)
                    waiting &= waiting - ONE
                    transitions += 1
                    if ending != EVERYTHING or worst != NO_RULE:
                        continue
                    to_first = (first & changes[action, 0]) | changes[action, 2]
                    to_second = (second & changes[action, 1]) | changes[action, 3]
                    new = add(entries, stride, to_first, to_second)
                    if not new:
                        continue
                    if count >= most_states or depth >= most_layers:
                        ending = TOO_MANY_STATES if count >= most_states else TOO_MANY_LAYERS
                        continue
                    used += new - 1
                    queue[count * width] = to_first
                    if width == 2:
                        queue[count * width + 1] = to_second
                    parents[count] = number
                    count += 1
            if ending != EVERYTHING:
                break
        if ending == EVERYTHING and worst != NO_RULE:
            ending = RULE_BROKEN
        begin, end = end, count
        if begin < end and ending == EVERYTHING:
            depth += 1
    found[0], found[1], found[2], found[3] = ending, count, transitions, depth
    found[4], found[5] = worst, worst_at
    return found, queue, parents
