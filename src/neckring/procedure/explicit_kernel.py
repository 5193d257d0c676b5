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
from neckring.procedure.condition_kernel import (
    BATCH,
    BREAKS,
    FULL,
    NO_RULE,
    ONE,
    RULE,
    ZERO,
    count_transitions,
    evaluate,
    hold_rules,
)

Words = NDArray[uint64]
Numbers = NDArray[int64]

# How a search ended.
EVERYTHING = 0
RULE_BROKEN = 1
TOO_MANY_STATES = 2
TOO_MANY_LAYERS = 3

# What is found, by its place.
ENDING, STATES, TRANSITIONS, DEPTH = range(4)
USED, FOUND = BREAKS + 1, BREAKS + 2

# Slots for each entry in use, at least.
SPARSE = 3
LEAF = 6
LEAF_SHIFT = uint64(LEAF)
LEAF_MASK = uint64((1 << LEAF) - 1)
TWO = uint64(2)
HALF_WORD = uint64(32)
SCATTER = uint64(0x9E3779B97F4A7C15)
SCATTER_AGAIN = uint64(0xD6E8FEB86659FD93)
LOWEST_SHIFT = uint64(58)
SEQUENCE = uint64(0x03F79D71B4CB0A89)
FIRST_SLOTS = 1 << 12


def _lowest_places() -> Numbers:
    places: Numbers = np.zeros(64, np.int64)
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
def lowest(bits: uint64) -> int:
    """Place of the lowest bit set, of a word that is not zero."""
    return int(PLACES[((bits & (~bits + ONE)) * SEQUENCE) >> LOWEST_SHIFT])


@compiled
def grown(entries: Words, stride: int) -> Words:
    """A set's entries in twice the room, shape (slots x stride,)."""
    slots = entries.shape[0] // stride
    wider = np.zeros(2 * slots * stride, np.uint64)
    last = uint64(2 * slots - 1)
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
def longer_words(numbers: Words, size: int) -> Words:
    """The same words in more room."""
    more = np.empty(size, np.uint64)
    more[: numbers.shape[0]] = numbers
    return more


@compiled
def longer_numbers(numbers: NDArray[int32], size: int) -> NDArray[int32]:
    """The same numbers in more room."""
    more = np.empty(size, np.int32)
    more[: numbers.shape[0]] = numbers
    return more


@compiled
def expand(
    queue: Words,
    parents: NDArray[int32],
    entries: Words,
    stride: int,
    begin: int,
    end: int,
    most_states: int,
    first_groups: int,
    shift: Words,
    mask: Words,
    base: Words,
    rows: Words,
    members: Words,
    kept: Words,
    action_count: int,
    changes: Words,
    ruled: Words,
    found: Numbers,
) -> int:
    """Go on from a batch of a layer's states; the counts are in `found`.

    There must be room for BATCH x `action_count` more states. Where a rule breaks it stops at once.

    Returns:
        Number of the state to go on from next.
    """
    width = stride - 1
    wide, last = uint64(stride), uint64(entries.shape[0] // stride - 1)
    guards = np.empty((BATCH, rows.shape[1]), np.uint64)
    words = (action_count + 63) // 64
    last_mask = FULL >> uint64((64 - action_count) & 63)
    count, used, transitions = found[STATES], found[USED], found[TRANSITIONS]
    high = min(begin + BATCH, end)
    evaluate(
        queue, width, begin, high, first_groups, shift, mask, base, rows, members, kept, guards
    )
    broken = ZERO
    for own in range(high - begin):
        for word in range(ruled.shape[0]):
            broken |= guards[own, word] & ruled[word]
    if broken != ZERO:
        found[ENDING] = RULE_BROKEN
        return high
    for number in range(begin, high):
        if found[ENDING] != EVERYTHING:
            break
        first = queue[number * width]
        second = queue[number * width + 1] if width == 2 else ZERO
        for word in range(words):
            waiting = guards[number - begin, word]
            if word == words - 1:
                waiting &= last_mask
            while waiting != ZERO:
                action = word * 64 + lowest(waiting)
                waiting &= waiting - ONE
                transitions += 1
                to_first = (first & changes[action, 0]) | changes[action, 2]
                to_second = (second & changes[action, 1]) | changes[action, 3]
                key = to_first >> LEAF_SHIFT
                leaf = ONE << (to_first & LEAF_MASK)
                place = scattered(key, to_second) & last
                at = place * wide
                while entries[at] != ZERO and not (
                    entries[at + ONE] == key and (width == 1 or entries[at + TWO] == to_second)
                ):
                    place = (place + ONE) & last
                    at = place * wide
                there = entries[at]
                if there & leaf:
                    continue
                if count >= most_states:
                    found[ENDING] = TOO_MANY_STATES
                    continue
                entries[at] = there | leaf
                entries[at + ONE] = key
                queue[count * width] = to_first
                if width == 2:
                    entries[at + TWO] = to_second
                    queue[count * width + 1] = to_second
                used += there == ZERO
                parents[count] = number
                count += 1
    found[STATES], found[USED], found[TRANSITIONS] = count, used, transitions
    return high


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
    rows: Words,
    members: Words,
    kept: Words,
    action_count: int,
    changes: Words,
    rule_count: int,
) -> tuple[Numbers, Words, NDArray[int32]]:
    """Search breadth first.

    Args:
        start: Both words of the state at the start, shape (2,).
        stride: Numbers in an entry of the set: 2, or 3 when states take two words.
        most_states: Bound.
        most_layers: Bound.
        first_groups: As in `neckring.procedure.packed_tables.PackedTables`, and so on.
        shift: Of each group.
        mask: Of each group.
        base: Of each group.
        rows: Of the actions' guards and the rules.
        members: Of their gates.
        kept: Of their gates.
        action_count: How many actions; the bits of their guards come first.
        changes: Bits kept and set by each action, shape (actions, 4).
        rule_count: How many rules; their bits come next.

    Returns:
        What was found, by the names above; then the states in the order reached, and of each the
        number of the one it was reached from.
    """
    width = stride - 1
    entries = np.zeros(FIRST_SLOTS * stride, np.uint64)
    queue: Words = np.empty(FIRST_SLOTS * width, np.uint64)
    parents: NDArray[int32] = np.empty(FIRST_SLOTS, np.int32)
    found = np.zeros(FOUND, np.int64)
    found[STATES], found[USED], found[RULE] = 1, 1, NO_RULE
    queue[:width] = start[:width]
    parents[0] = -1
    key = start[0] >> LEAF_SHIFT
    at = (scattered(key, start[1]) & uint64(FIRST_SLOTS - 1)) * uint64(stride)
    entries[at], entries[at + ONE] = ONE << (start[0] & LEAF_MASK), key
    if width == 2:
        entries[at + TWO] = start[1]
    most_new = BATCH * action_count
    ruled = np.zeros(rows.shape[1], np.uint64)
    for bit in range(action_count, action_count + rule_count):
        ruled[bit >> 6] |= ONE << uint64(bit & 63)
    begin, end = 0, 1
    while begin < end:
        layer, transitions = begin, found[TRANSITIONS]
        # Beyond the last layer allowed one more state is one too many.
        last_layer = found[DEPTH] >= most_layers
        most = found[STATES] if last_layer else most_states
        while begin < end and found[ENDING] == EVERYTHING:
            while SPARSE * (found[USED] + most_new) > entries.shape[0] // stride:
                entries = grown(entries, stride)
            if found[STATES] + most_new > parents.shape[0]:
                room = 2 * parents.shape[0] + most_new
                parents = longer_numbers(parents, room)
                queue = longer_words(queue, room * width)
            begin = expand(
                queue,
                parents,
                entries,
                stride,
                begin,
                end,
                most,
                first_groups,
                shift,
                mask,
                base,
                rows,
                members,
                kept,
                action_count,
                changes,
                ruled,
                found,
            )
        if found[ENDING] != EVERYTHING:
            # A rule that breaks in this layer counts for more than a bound, and the first counts.
            hold_rules(
                queue,
                width,
                layer,
                end,
                first_groups,
                shift,
                mask,
                base,
                rows,
                members,
                kept,
                action_count,
                rule_count,
                found,
            )
            if found[RULE] != NO_RULE:
                found[ENDING], found[STATES] = RULE_BROKEN, end
                found[TRANSITIONS] = transitions + count_transitions(
                    queue,
                    width,
                    layer,
                    end,
                    first_groups,
                    shift,
                    mask,
                    base,
                    rows,
                    members,
                    kept,
                    action_count,
                )
            elif last_layer and found[STATES] < most_states:
                found[ENDING] = TOO_MANY_LAYERS
            break
        end = found[STATES]
        if begin < end:
            found[DEPTH] += 1
    return found, queue, parents
