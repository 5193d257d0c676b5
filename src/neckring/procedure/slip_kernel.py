"""The compiled walk through a procedure with its slips, each situation once.

A *situation* is all that decides how a sequence goes on: position, state, clocks of the timed
rules, and what is late or was done early. Sequences that come to the same situation go on alike,
so situations lie in layers, one layer for each position, and each is gone on from once: with
nothing amiss, and, if sequences with deviations to spare come to it, with each deviation there.

What it all means is written in `neckring.procedure.slips`.
"""

from __future__ import annotations

import numpy as np
from numpy import float64, int64, uint64
from numpy.typing import NDArray

from neckring.compiled import compiled

Words = NDArray[uint64]
Numbers = NDArray[int64]
Floats = NDArray[float64]

# Outcomes, in the lowest bits of an ending's code.
GOES_ON, HARMLESS, CAUGHT, BLOCKED, LATENT, HARM, VOID = range(7)
OUTCOME_BITS = 7
# Set when the deviation tried had not happened yet; then the step, and one more than the rule.
NOT_REACHED = 8
STEP_SHIFT, STEP_BITS = 4, (1 << 20) - 1
RULE_SHIFT = 24

# Kinds of what is done.
MOVE, CHECK, OTHER_STEP, FAILURE = range(4)
# Kinds of slips: as in `SlipKind`, those that do something in the step's place being one.
OMIT, REPEAT, LATE, EARLY, INSTEAD = range(5)
# Where tests of a condition end.
ACCEPT, REJECT = -1, -2

# May still take a person's slip; may still take a failure.
TAKES_SLIP, TAKES_FAILURE = 1, 2

ZERO, ONE = uint64(0), uint64(1)
SIXTEEN, THIRTY_TWO = uint64(16), uint64(32)
LOW = uint64(0xFFFF)
SCATTER = uint64(0x9E3779B97F4A7C15)
SCATTER_AGAIN = uint64(0xD6E8FEB86659FD93)


@compiled
def mixed(one: uint64, other: uint64) -> uint64:
    """Two words made into one whose bits depend on all of theirs."""
    both = (one ^ (other * SCATTER_AGAIN)) * SCATTER
    both ^= both >> THIRTY_TWO
    both *= SCATTER_AGAIN
    return both ^ (both >> THIRTY_TWO)


@compiled
def is_early(early: uint64, step: int) -> bool:
    """Whether a step stands among the (at most two) that were done early, one more than each."""
    one_more = uint64(step + 1)
    return bool(early & LOW == one_more) or bool((early >> SIXTEEN) & LOW == one_more)


@compiled
def with_early(early: uint64, step: int) -> uint64:
    """The same with one more, the smaller number below."""
    one_more = uint64(step + 1)
    if early == ZERO:
        return one_more
    return early | (one_more << SIXTEEN) if early < one_more else (early << SIXTEEN) | one_more


@compiled
def without_early(early: uint64, step: int) -> uint64:
    """The same with one fewer."""
    one_more = uint64(step + 1)
    return early >> SIXTEEN if early & LOW == one_more else early & LOW


@compiled
def unfold(
    start: Words,
    item_kind: Numbers,
    item_guard: Numbers,
    item_step: Numbers,
    item_high: Floats,
    changes: Words,
    touched_begin: Numbers,
    touched: Numbers,
    tests: Numbers,
    allowed: Numbers,
    rule_entry: Numbers,
    timed_entry: Numbers,
    longest: Floats,
    slip_begin: Numbers,
    slip_kind: Numbers,
    slip_argument: Numbers,
    failure_items: Numbers,
    with_slips: bool,
    with_failures: bool,
    words: Words,
    clocks: Floats,
    table: Numbers,
    following: Numbers,
    slip_runs: Numbers,
    failure_runs: Numbers,
    both_runs: Numbers,
    ends: Numbers,
) -> int:
    """Go through all layers of situations.

    Args:
        start: Both words of the state at the start, shape (2,).
        item_kind: MOVE, CHECK, OTHER_STEP or FAILURE of each thing that may be done; first the
            steps by position.
        item_guard: First test of its guard.
        item_step: Position of the step it counts as; -1 for a failure.
        item_high: The longest it takes [s].
        changes: Bits kept and set by each, shape (items, 4).
        touched_begin: Where in `touched` its rules begin, shape (items + 1,).
        touched: Numbers of the rules that what it changes may break.
        tests: Word, shift, mask, offset in `allowed`, next test if so, next test if not,
            shape (tests, 6).
        allowed: 1 for values wanted.
        rule_entry: First test of each rule.
        timed_entry: First test of each timed rule.
        longest: How long each timed rule's condition may hold [s].
        slip_begin: Where the slips of each position begin, shape (steps + 1,).
        slip_kind: OMIT, REPEAT, LATE, EARLY or INSTEAD of each slip.
        slip_argument: Position (LATE, EARLY) or item (INSTEAD) of each.
        failure_items: The kit's failures.
        with_slips: Whether two slips are asked for.
        with_failures: Whether a slip together with a failure is asked for.
        words: Filled: state, what is late, what was early of each situation, (situations, 4).
        clocks: Filled: of each situation, shape (situations, timed rules).
        table: Room for finding situations; a power of two of them, filled with -1.
        following: Filled: what each situation comes to with nothing amiss: another situation's
            number, or the negative of an ending's code.
        slip_runs: Filled for situations that were gone on from with slips: shape (situations,
            most slips at a position).
        failure_runs: The same with failures, shape (situations, failures).
        both_runs: The same with both, by position, shape (steps, failures, most slips).
        ends: Filled: number after the last situation of each layer, shape (steps + 1,).

    Returns:
        Number of situations; -1 when there is not enough room.
    """
    length = slip_begin.shape[0] - 1
    rules, timed = rule_entry.shape[0], timed_entry.shape[0]
    last = uint64(table.shape[0] - 1)
    takes = np.zeros(words.shape[0], np.int64)
    now = np.empty(timed, np.float64)
    todo = np.empty(8, np.int64)
    failure_count = failure_items.shape[0]
    words[0, 0], words[0, 1], words[0, 2], words[0, 3] = start[0], start[1], ZERO, ZERO
    clocks[0, :] = 0.0
    takes[0] = TAKES_SLIP | TAKES_FAILURE
    begin, end, count = 0, 1, 1
    end_first, end_second = ZERO, ZERO
    for position in range(length + 1):
        ends[position] = end
        slips = slip_begin[position + 1] - slip_begin[position] if position < length else 0
        failing = failure_count if position < length else 0
        for node in range(begin, end):
            is_nominal = node == begin
            tried_slips = slips + 1 if takes[node] & TAKES_SLIP else 1
            tried_failures = failing + 1 if takes[node] & TAKES_FAILURE else 1
            for failure in range(tried_failures):
                for slip in range(tried_slips):
                    if failure and slip and not (is_nominal and with_failures):
                        continue
                    first, second = words[node, 0], words[node, 1]
                    late, early = words[node, 2], words[node, 3]
                    for rule in range(timed):
                        now[rule] = clocks[node, rule]
                    # What is to be done here, in order.
                    number = 0
                    for _ in range(2):
                        if late != ZERO and int64(late & LOW) == position:
                            todo[number] = int64((late >> SIXTEEN) & LOW)
                            number += 1
                            late >>= THIRTY_TWO
                    reached_failure = number
                    if failure:
                        todo[number] = failure_items[failure - 1]
                        number += 1
                    reached_slip = number
                    code = GOES_ON
                    if position < length and is_early(early, position):
                        early = without_early(early, position)
                        if slip:
                            code = VOID
                    elif position < length:
                        chosen = slip_begin[position] + slip - 1
                        kind = slip_kind[chosen] if slip else -1
                        argument = slip_argument[chosen] if slip else 0
                        if kind == LATE:
                            own = uint64(argument) | (uint64(position) << SIXTEEN)
                            # Sooner due, or due together and written sooner, stands below.
                            if late == ZERO or late <= own:
                                if late == ZERO or (late & LOW) <= (own & LOW):
                                    late |= own << (THIRTY_TWO if late != ZERO else ZERO)
                                else:
                                    late = (late << THIRTY_TWO) | own
                            elif (late & LOW) <= (own & LOW):
                                late |= own << THIRTY_TWO
                            else:
                                late = (late << THIRTY_TWO) | own
                        elif kind == EARLY:
                            if is_early(early, argument):
                                code = VOID
                            early = with_early(early, argument)
                            todo[number] = argument
                            number += 1
                        elif kind == REPEAT:
                            todo[number] = position
                            number += 1
                        if kind == INSTEAD:
                            todo[number] = argument
                            number += 1
                        elif kind != LATE and kind != OMIT:
                            todo[number] = position
                            number += 1
                    done = 0
                    # A void slip is still void only if nothing ends the sequence before it.
                    number = number if code == GOES_ON else reached_slip
                    void, code = code, GOES_ON
                    while done < number and code == GOES_ON:
                        item = todo[done]
                        step = item_step[item] if item_step[item] >= 0 else position
                        ending = GOES_ON
                        broken = 0
                        what = item_kind[item]
                        if what != FAILURE:
                            for rule in range(timed):
                                at = timed_entry[rule]
                                while at >= 0:
                                    word = second if tests[at, 0] else first
                                    value = (word >> uint64(tests[at, 1])) & uint64(tests[at, 2])
                                    wanted = allowed[tests[at, 3] + int64(value)]
                                    at = tests[at, 4] if wanted else tests[at, 5]
                                now[rule] = now[rule] + item_high[item] if at == ACCEPT else 0.0
                                if now[rule] > longest[rule] and ending == GOES_ON:
                                    ending, broken = HARM, rules + rule + 1
                        if ending == GOES_ON:
                            at = item_guard[item]
                            while at >= 0:
                                word = second if tests[at, 0] else first
                                value = (word >> uint64(tests[at, 1])) & uint64(tests[at, 2])
                                wanted = allowed[tests[at, 3] + int64(value)]
                                at = tests[at, 4] if wanted else tests[at, 5]
                            if at != ACCEPT:
                                ending = (BLOCKED, CAUGHT, GOES_ON, VOID)[what]
                        if ending == GOES_ON:
                            first = (first & changes[item, 0]) | changes[item, 2]
                            second = (second & changes[item, 1]) | changes[item, 3]
                            for which in range(touched_begin[item], touched_begin[item + 1]):
                                at = rule_entry[touched[which]]
                                while at >= 0:
                                    word = second if tests[at, 0] else first
                                    value = (word >> uint64(tests[at, 1])) & uint64(tests[at, 2])
                                    wanted = allowed[tests[at, 3] + int64(value)]
                                    at = tests[at, 4] if wanted else tests[at, 5]
                                if at == ACCEPT:
                                    ending, broken = HARM, touched[which] + 1
                                    break
                        if ending == VOID:
                            code = VOID
                        elif ending != GOES_ON:
                            code = ending | (step + 1) << STEP_SHIFT | broken << RULE_SHIFT
                            reached = reached_slip if slip else reached_failure
                            if (slip or failure) and done < reached:
                                code |= NOT_REACHED
                        done += 1
                    if code == GOES_ON:
                        code = void
                    if code == GOES_ON and position == length:
                        if is_nominal:
                            end_first, end_second = first, second
                        same = first == end_first and second == end_second
                        code = HARMLESS if same else LATENT
                    if code != GOES_ON:
                        result = -code
                    else:
                        # The situation this comes to, new or known.
                        mark = mixed(mixed(mixed(first, second), late), early)
                        # Most clocks stand still most of the time.
                        for rule in range(timed):
                            if now[rule] != 0.0:
                                mark = mixed(mark + uint64(rule), uint64(int64(now[rule] * 1024.0)))
                        place = mark & last
                        result = -1
                        while True:
                            there = table[place]
                            if there < end:
                                break
                            if (
                                words[there, 0] == first
                                and words[there, 1] == second
                                and words[there, 2] == late
                                and words[there, 3] == early
                            ):
                                alike = True
                                for rule in range(timed):
                                    if clocks[there, rule] != now[rule]:
                                        alike = False
                                if alike:
                                    result = there
                                    break
                            place = (place + ONE) & last
                        if result < 0:
                            if count >= words.shape[0]:
                                return -1
                            result = count
                            table[place] = result
                            words[result, 0], words[result, 1] = first, second
                            words[result, 2], words[result, 3] = late, early
                            for rule in range(timed):
                                clocks[result, rule] = now[rule]
                            count += 1
                        if not slip and not failure:
                            takes[result] |= takes[node]
                        elif is_nominal and slip and not failure:
                            takes[result] |= TAKES_SLIP if with_slips else 0
                            takes[result] |= TAKES_FAILURE if with_failures else 0
                        elif is_nominal and failure and not slip:
                            takes[result] |= TAKES_SLIP if with_failures else 0
                    if slip and failure:
                        both_runs[position, failure - 1, slip - 1] = result
                    elif slip:
                        slip_runs[node, slip - 1] = result
                    elif failure:
                        failure_runs[node, failure - 1] = result
                    else:
                        following[node] = result
                        if is_nominal and result < 0 and position < length:
                            ends[position:] = end
                            return count
        begin, end = end, count
    return count


@compiled
def endings(following: Numbers, count: int) -> None:
    """Put into `following` of each situation how it ends with nothing amiss, last ones first.

    The numbers of the situations it leads through are lost.
    """
    for node in range(count - 1, -1, -1):
        if following[node] >= 0:
            following[node] = following[following[node]]


@compiled
def tally(
    code: int, one: int, other: int, counts: Numbers, alone: Numbers, shares: Numbers
) -> bool:
    """Count one pair's ending; True when it is harm for which both were needed."""
    outcome = code & OUTCOME_BITS
    if code & NOT_REACHED:
        alone[outcome] += 1
        return False
    counts[outcome] += 1
    if outcome != VOID:
        shares[one, outcome] += 1
        shares[other, outcome] += 1
    return outcome == HARM


@compiled
def pair_up(
    slip_begin: Numbers,
    failure_count: int,
    two_slips: bool,
    nominal_nodes: Numbers,
    following: Numbers,
    ended: Numbers,
    slip_runs: Numbers,
    failure_runs: Numbers,
    both_runs: Numbers,
    counts: Numbers,
    alone: Numbers,
    shares: Numbers,
    harmful: Numbers,
) -> int:
    """Count the endings of all pairs.

    Args:
        slip_begin: Where the slips of each position begin, shape (steps + 1,).
        failure_count: How many failures the kit has.
        two_slips: Pairs of two slips; else pairs of a slip and a failure, whose number comes
            after the slips: position by position, failure by failure.
        nominal_nodes: Situation of each position when nothing slips, shape (steps,).
        following: As `unfold` leaves it.
        ended: As `endings` leaves it.
        slip_runs: As `unfold` leaves it.
        failure_runs: As `unfold` leaves it.
        both_runs: As `unfold` leaves it.
        counts: Added to: pairs by outcome, shape (7,).
        alone: Added to: pairs that the first settled before the second could happen, same shape.
        shares: Added to: pairs by deviation and outcome, shape (deviations, 7).
        harmful: Filled as far as there is room: deviations of harmful pairs, shape (room, 2).

    Returns:
        How many pairs are harmful.
    """
    length = slip_begin.shape[0] - 1
    slips = slip_begin[length]
    found = 0
    kinds = 1 if two_slips else 2
    for position in range(length):
        node = nominal_nodes[position]
        own = slip_begin[position + 1] - slip_begin[position]
        for first_kind in range(kinds):
            firsts = failure_count if first_kind else own
            for one in range(firsts):
                if first_kind:
                    first, at = slips + position * failure_count + one, failure_runs[node, one]
                else:
                    first, at = slip_begin[position] + one, slip_runs[node, one]
                if first_kind == 0 and not two_slips:
                    for failure in range(failure_count):
                        to = both_runs[position, failure, one]
                        code = -to if to < 0 else -ended[to]
                        second = slips + position * failure_count + failure
                        if tally(code, first, second, counts, alone, shares):
                            if found < harmful.shape[0]:
                                harmful[found, 0], harmful[found, 1] = first, second
                            found += 1
                for place in range(position + 1, length):
                    if two_slips or first_kind:
                        low = slip_begin[place]
                        seconds = slip_begin[place + 1] - low
                    else:
                        low = slips + place * failure_count
                        seconds = failure_count
                    if at < 0:
                        if -at & OUTCOME_BITS == VOID:
                            counts[VOID] += seconds
                        else:
                            alone[-at & OUTCOME_BITS] += seconds
                        continue
                    for number in range(seconds):
                        if two_slips or first_kind:
                            to = slip_runs[at, number]
                        else:
                            to = failure_runs[at, number]
                        code = -to if to < 0 else -ended[to]
                        if tally(code, first, low + number, counts, alone, shares):
                            if found < harmful.shape[0]:
                                harmful[found, 0], harmful[found, 1] = first, low + number
                            found += 1
                    at = following[at]
    return found
