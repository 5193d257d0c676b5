"""Canonical JSON and the chain: against published examples, and every change is found."""

from __future__ import annotations

import json
import math
import struct
from dataclasses import replace

import pytest
from book_worlds import deeds, few, stamps
from hypothesis import assume, given
from hypothesis import strategies as st

from neckring.live.book_json import canonical, number, parsed
from neckring.live.chain import (
    NOTHING_BEFORE,
    BrokenChainError,
    Row,
    digest_of,
    empty,
    entry_of,
    next_row,
    row_text,
    verified,
)
from neckring.live.entries import BookError, Deed, Head, Kind, Role, Stamp

# RFC 8785 (2020), appendix B: bits of a double, and what is written. Two tables of the same
# examples in public implementations were compared; the RFC's own page was not opened.
APPENDIX_B = {
    "0000000000000000": "0",
    "8000000000000000": "0",
    "0000000000000001": "5e-324",
    "8000000000000001": "-5e-324",
    "7fefffffffffffff": "1.7976931348623157e+308",
    "ffefffffffffffff": "-1.7976931348623157e+308",
    "4340000000000000": "9007199254740992",
    "c340000000000000": "-9007199254740992",
    "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22",
    "44b52d02c7e14af6": "1e+23",
    "44b52d02c7e14af7": "1.0000000000000001e+23",
    "444b1ae4d6e2ef4e": "999999999999999700000",
    "444b1ae4d6e2ef4f": "999999999999999900000",
    "444b1ae4d6e2ef50": "1e+21",
    "3eb0c6f7a0b5ed8c": "9.999999999999997e-7",
    "3eb0c6f7a0b5ed8d": "0.000001",
    "41b3de4355555553": "333333333.3333332",
    "41b3de4355555554": "333333333.33333325",
    "41b3de4355555555": "333333333.3333333",
    "41b3de4355555556": "333333333.3333334",
    "41b3de4355555557": "333333333.33333343",
    "becbf647612f3696": "-0.0000033333333333333333",
    "43143ff3c1cb0959": "1424953923781206.2",
}

# FIPS 180-4, SHA-256; examples as NIST publishes them ("SHA256.pdf" of its example values), from
# memory, as is the digest of no bytes.
NIST = {
    "": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq": (
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
    ),
}


@pytest.mark.parametrize(("bits", "written"), APPENDIX_B.items())
def test_numbers_are_written_as_in_appendix_b(bits: str, written: str) -> None:
    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    assert number(value) == written
    assert number(float(written)) == written


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_appendix_b_refuses_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="cannot be written"):
        canonical([value])


def test_the_sample_of_the_scheme_s_authors() -> None:
    # Source: the reference repository of the scheme's authors, README: sample and its bytes.
    sample = r"""{
      "numbers": [1E30, 4.50, 6, 2e-3, 0.000000000000000000000000001],
      "escaping": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "other":  [null, true, false]
    }"""
    expected = bytes.fromhex(
        """7b 22 65 73 63 61 70 69 6e 67 22 3a 22 e2 82 ac 24 5c 75 30 30 30 66 5c 6e 41 27 42 5c
        22 5c 5c 5c 5c 5c 22 2f 22 2c 22 6e 75 6d 62 65 72 73 22 3a 5b 31 65 2b 33 30 2c 34 2e 35
        2c 36 2c 30 2e 30 30 32 2c 31 65 2d 32 37 5d 2c 22 6f 74 68 65 72 22 3a 5b 6e 75 6c 6c 2c
        74 72 75 65 2c 66 61 6c 73 65 5d 7d"""
    )
    assert canonical(parsed(sample)).encode() == expected


def test_keys_stand_in_the_order_of_section_3_2_3() -> None:
    # RFC 8785, section 3.2.3 (from memory): by UTF-16 code units, so the face before the letter.
    names = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }
    assert list(json.loads(canonical(names)).values()) == [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]


def deep(levels: int) -> list[object]:
    return [deep(levels - 1)] if levels else []


@pytest.mark.parametrize(
    "value", [2**53, -(2**53), "\ud800", {"\udfff": 1}, {1: 2}, object(), deep(40), b"x"]
)
def test_what_has_no_canonical_form_is_refused_in_words(value: object) -> None:
    with pytest.raises(ValueError, match=r"\w+ \w+"):
        canonical(value)


values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(1 - 2**53, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@few
@given(values)
def test_canonical_json_reads_back_as_itself_and_is_canonical_already(value: object) -> None:
    text = canonical(value)
    assert json.loads(text, parse_int=float) == value
    assert parsed(text) == value
    assert canonical(parsed(text)) == text


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_is_never_longer_than_needed_and_reads_back_to_the_bit(value: float) -> None:
    assert struct.pack(">d", float(number(value))) == struct.pack(">d", value + 0.0)


@pytest.mark.parametrize(("text", "digest"), NIST.items())
def test_digests_are_those_nist_publishes(text: str, digest: str) -> None:
    assert digest_of("", text) == digest
    assert digest_of(text, "") == digest


def test_the_first_entry_follows_the_digest_of_nothing() -> None:
    assert empty("TQ1") == Head("TQ1", 0, NIST[""])


def chain_of(taken: list[tuple[Deed, Stamp]]) -> list[Row]:
    rows: list[Row] = []
    head = empty("TQ1")
    for deed, stamp in taken:
        rows.append(next_row(head, deed, stamp))
        head = Head("TQ1", rows[-1].number, rows[-1].digest)
    return rows


chains = st.lists(st.tuples(deeds, stamps), min_size=2, max_size=6).map(chain_of)


@few
@given(deeds, stamps)
def test_what_is_written_reads_back_as_it_was(deed: Deed, stamp: Stamp) -> None:
    # Given a deed as a row of a chain
    row = next_row(empty("TQ1"), deed, stamp)

    # When it is read
    entry = entry_of(row)

    # Then it is the same, and would be written the same
    assert (entry.deed, entry.stamp, entry.number) == (deed, stamp, 1)
    assert row_text(entry) == row.text


@few
@given(chains)
def test_a_whole_chain_verifies(rows: list[Row]) -> None:
    assert [entry.number for entry in verified(rows, empty("TQ1"))] == [row.number for row in rows]


def first_fault(rows: list[Row]) -> int:
    with pytest.raises(BrokenChainError) as caught:
        list(verified(rows, empty("TQ1")))
    return caught.value.number


@few
@given(chains, st.data())
def test_every_change_of_one_letter_is_found_where_it_is(
    rows: list[Row], data: st.DataObject
) -> None:
    # Given a chain of which one letter of one part of one row is another
    place = data.draw(st.integers(0, len(rows) - 1))
    part = data.draw(st.sampled_from(["key", "text", "previous", "digest"]))
    old = getattr(rows[place], part)
    at = data.draw(st.integers(0, len(old) - 1))
    letter = data.draw(st.characters(codec="utf-8"))
    assume(letter != old[at])
    rows[place] = replace(rows[place], **{part: old[:at] + letter + old[at + 1 :]})

    # When it is verified, then the fault is found there
    assert first_fault(rows) == place + 1


@few
@given(chains, st.data())
def test_a_deletion_or_a_swap_in_the_middle_is_found_where_it_is(
    rows: list[Row], data: st.DataObject
) -> None:
    place = data.draw(st.integers(0, len(rows) - 2))
    without = [*rows[:place], *rows[place + 1 :]]
    swapped = [*rows[:place], rows[place + 1], rows[place], *rows[place + 2 :]]
    assert first_fault(without) == place + 1
    assert first_fault(swapped) == place + 1


@few
@given(chains, st.data())
def test_a_deletion_with_later_entries_numbered_anew_is_found(
    rows: list[Row], data: st.DataObject
) -> None:
    place = data.draw(st.integers(0, len(rows) - 2))
    later = [replace(row, number=row.number - 1) for row in rows[place + 1 :]]
    assert first_fault([*rows[:place], *later]) == place + 1


@few
@given(chains)
def test_a_cut_tail_does_not_show_in_the_chain_itself(rows: list[Row]) -> None:
    # Only a head kept elsewhere shows it: test_book_head.py.
    assert len(list(verified(rows[:-1], empty("TQ1")))) == len(rows) - 1


def test_an_entry_of_another_station_and_of_a_newer_neckring_is_refused() -> None:
    deed = Deed("k", Kind.NOTE, "T1", Role.TENDER, "tab", {})
    other = next_row(empty("TQ2"), deed, Stamp(0.0, 0.0, 0.0))
    newer = other.text.replace('"schema":1', '"schema":2')
    with pytest.raises(BrokenChainError, match="of station 'TQ2', not 'TQ1'"):
        list(verified([other], empty("TQ1")))
    with pytest.raises(BrokenChainError, match="newer neckring"):
        entry_of(replace(other, text=newer, digest=digest_of(other.previous, newer)))


@pytest.mark.parametrize("text", ["", "[]", "{}", "null", '{"schema":1}', "[" * 100_000])
def test_text_that_is_no_entry_is_refused_with_its_place(text: str) -> None:
    row = Row(3, "k", text, NOTHING_BEFORE, digest_of(NOTHING_BEFORE, text))
    with pytest.raises(BrokenChainError, match="entry 3: its text is not that of an entry"):
        entry_of(row)


@pytest.mark.parametrize("key", ["", "a\nb", "a\0b", "x" * 201])
def test_a_key_that_cannot_be_kept_is_refused(key: str) -> None:
    deed = Deed(key, Kind.NOTE, "T1", Role.TENDER, "tab", {})
    with pytest.raises(BookError, match="key must be 1 to 200 printable letters"):
        next_row(empty("TQ1"), deed, Stamp(0.0, 0.0, 0.0))
