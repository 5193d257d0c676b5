"""Sensor Measurement Lists: the RFC's own examples, and everything that is none."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.live.sensor_worlds import said_of

from neckring.live.sensors.record import MessageError, Record
from neckring.live.sensors.senml import LONGEST_PACK, MOST_RECORDS, RELATIVE_BELOW, parse_pack

NOW = 1_800_000_000.0

# Source: RFC 8428, section 5.1.3, as printed.
MEASURED_ON_THE_WAY = """[
  {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
  {"u":"lon","v":24.30621},
  {"u":"lat","v":60.07965},
  {"t":60,"v":20.3},
  {"u":"lon","t":60,"v":24.30622},
  {"u":"lat","t":60,"v":60.07965},
  {"t":120,"v":20.7},
  {"u":"lon","t":120,"v":24.30623},
  {"u":"lat","t":120,"v":60.07966},
  {"u":"%EL","t":150,"v":98},
  {"t":180,"v":21.2},
  {"u":"lon","t":180,"v":24.30628},
  {"u":"lat","t":180,"v":60.07967}
]"""

# Source: RFC 8428, section 5.1.4, the same pack resolved: unit, time and value of each record.
RESOLVED = [
    ("%RH", 1.320067464e09, 20),
    ("lon", 1.320067464e09, 24.30621),
    ("lat", 1.320067464e09, 60.07965),
    ("%RH", 1.320067524e09, 20.3),
    ("lon", 1.320067524e09, 24.30622),
    ("lat", 1.320067524e09, 60.07965),
    ("%RH", 1.320067584e09, 20.7),
    ("lon", 1.320067584e09, 24.30623),
    ("lat", 1.320067584e09, 60.07966),
    ("%EL", 1.320067614e09, 98),
    ("%RH", 1.320067644e09, 21.2),
    ("lon", 1.320067644e09, 24.30628),
    ("lat", 1.320067644e09, 60.07967),
]


def records(pack: str) -> tuple[Record, ...]:
    return parse_pack(pack, NOW).records


def test_a_single_value_taken_about_now() -> None:
    # Source: RFC 8428, section 5.1.1.
    (only,) = records('[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]')
    assert only == Record("urn:dev:ow:10e2073a01080063", 23.1, "Cel", None, False)


def test_a_base_name_goes_before_every_name() -> None:
    # Source: RFC 8428, section 5.1.2, first example.
    pack = (
        '[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},'
        '{"n":"current","u":"A","v":1.2}]'
    )
    first, second = records(pack)
    assert (first.name, first.unit, first.value) == (
        "urn:dev:ow:10e2073a01080063:voltage",
        "V",
        120.1,
    )
    assert (second.name, second.unit) == ("urn:dev:ow:10e2073a01080063:current", "A")


def test_base_time_base_unit_and_an_older_version() -> None:
    # Source: RFC 8428, section 5.1.2, second example; it states the version of the drafts.
    pack = """[
      {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,
       "bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
      {"n":"current","t":-5,"v":1.2},
      {"n":"current","t":-4,"v":1.3},
      {"n":"current","t":-3,"v":1.4},
      {"n":"current","t":-2,"v":1.5},
      {"n":"current","t":-1,"v":1.6},
      {"n":"current","v":1.7}
    ]"""
    found = records(pack)
    assert [each.unit for each in found] == ["V"] + ["A"] * 6
    assert [each.value for each in found] == [120.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.7]
    times = [each.time for each in found]
    assert times == [1276020076.001 + back for back in (0, -5, -4, -3, -2, -1, 0)]
    assert not any(each.relative for each in found)


def test_a_pack_resolves_as_the_rfc_resolves_it() -> None:
    found = records(MEASURED_ON_THE_WAY)
    assert {each.name for each in found} == {"urn:dev:ow:10e2073a01080063"}
    assert [(each.unit, each.time, each.value) for each in found] == RESOLVED


def test_texts_truths_and_bytes_are_no_numbers_but_no_fault_either() -> None:
    # Source: RFC 8428, section 5.1.5.
    pack = """[
      {"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
      {"n":"label","vs":"Machine Room"},
      {"n":"open","vb":false},
      {"n":"nfc-reader","vd":"aGkgCg"}
    ]"""
    parsed = parse_pack(pack, NOW)
    assert [each.name for each in parsed.records] == ["urn:dev:ow:10e2073a01080063:temp"]
    tails = [name.rsplit(":", 1)[1] for name in parsed.without_number]
    assert tails == ["label", "open", "nfc-reader"]


def test_each_base_field_holds_until_it_is_stated_anew() -> None:
    # Source: RFC 8428, section 5.1.6: the base name changes, the base time goes on.
    pack = """[
      {"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
      {"n":"humidity","u":"%RH","v":30},
      {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
      {"n":"humidity","u":"%RH","v":67}
    ]"""
    found = records(pack)
    assert [each.name for each in found] == [
        "2001:db8::2/temperature",
        "2001:db8::2/humidity",
        "2001:db8::1/temperature",
        "2001:db8::1/humidity",
    ]
    assert {each.time for each in found} == {1.320078429e09}


@pytest.mark.parametrize(
    ("stated", "time", "relative"),
    [
        ("", None, False),
        ('"t":0,', NOW, True),
        ('"t":-30,', NOW - 30, True),
        ('"t":30,', NOW + 30, True),
        (f'"t":{RELATIVE_BELOW - 1},', NOW + RELATIVE_BELOW - 1, True),
        (f'"t":{RELATIVE_BELOW},', RELATIVE_BELOW, False),
        ('"bt":1e9,"t":-5,', 1e9 - 5, False),
    ],
)
def test_times_below_two_to_the_28_are_seen_from_now(
    stated: str, time: float | None, relative: bool
) -> None:
    # Source: RFC 8428, section 4.5.3.
    (only,) = records(f'[{{"n":"x",{stated}"v":1}}]')
    assert (only.time, only.relative) == (time, relative)


def test_a_base_value_is_added_and_may_stand_alone() -> None:
    # Source: RFC 8428, section 4.5.4.
    first, second, third = records('[{"n":"x","bv":20,"v":0.5},{"n":"x","v":-1},{"n":"x"}]')
    assert (first.value, second.value, third.value) == (20.5, 19.0, 20.0)


def test_unknown_fields_are_passed_over_unless_they_must_be_understood() -> None:
    # Source: RFC 8428, section 4.4.
    assert records('[{"n":"x","v":1,"colour":"red"}]')[0].value == 1
    with pytest.raises(MessageError, match='record 2: "crypt_" must be understood'):
        records('[{"n":"x","v":1},{"n":"x","v":1,"crypt_":"red"}]')


@pytest.mark.parametrize(
    ("pack", "words"),
    [
        ("", "not JSON at line 1, column 1"),
        ("[", "not JSON at line 1"),
        ('[{"n":"x","v":1}\n,]', "not JSON at line 2, column 2"),
        ("{}", "a group of fields; a pack is a list of records"),
        ("[]", "an empty list"),
        ("84", "the number 84"),
        ("null", "null; a pack is"),
        ('[{"n":"x","v":1},[]]', "record 2 is a list"),
        ('[{"n":"x","v":"84"}]', 'record 1: v is the text "84"; it should be a number'),
        ('[{"n":"x","v":true}]', "record 1: v is true; it should be a number"),
        ('[{"n":"x","v":null}]', "record 1: v is null; it should be a number"),
        ('[{"n":"x","v":NaN}]', "NaN is no number that can be measured"),
        ('[{"n":"x","v":-Infinity}]', "Infinity is no number"),
        ('[{"n":"x","v":1e999}]', "record 1: v is a number that is too large"),
        (f'[{{"n":"x","v":{"9" * 400}}}]', "too large"),
        ('[{"n":"x","bv":1e308,"v":1e308}]', "base and value together are too large"),
        ('[{"n":5,"v":1}]', "record 1: n is the number 5; it should be a text"),
        ('[{"n":"x","u":1,"v":1}]', "record 1: u is the number 1; it should be a text"),
        ('[{"n":"x","vb":"on"}]', "it should be true or false"),
        ('[{"v":1}]', "record 1 has no name"),
        ('[{"n":"-x","v":1}]', 'record 1 has the name "-x"'),
        ('[{"n":"heart rate","v":1}]', 'the name "heart rate"'),
        ('[{"n":"x","v":1,"vs":"one"}]', "record 1 has more than one value: v, vs"),
        ('[{"n":"x","v":1,"v":2}]', 'the label "v" twice'),
        ('[{"bver":11,"n":"x","v":1}]', "record 1: bver 11; versions up to 10"),
        ('[{"bver":true,"n":"x","v":1}]', "bver is true"),
        ('[{"n":"x","v":1},{"bver":5,"n":"x","v":1}]', "record 2: another bver"),
        ("[" * 100_000, "nested without end"),
    ],
)
def test_what_is_no_pack_is_told_with_its_place(pack: str, words: str) -> None:
    with pytest.raises(MessageError) as refused:
        records(pack)
    assert words in str(refused.value)


def test_too_much_is_refused_unread() -> None:
    with pytest.raises(MessageError, match="bytes; at most"):
        parse_pack(b" " * (LONGEST_PACK + 1), NOW)
    many = json.dumps([{"n": "x", "v": 1}] * (MOST_RECORDS + 1))
    with pytest.raises(MessageError, match=f"{MOST_RECORDS + 1} records"):
        records(many)
    with pytest.raises(MessageError, match="byte 3 is not UTF-8"):
        parse_pack(b'[{\xff"n":"x"}]', NOW)


JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.sampled_from(["bn", "bt", "bver", "n", "u", "v", "t", "x_"]), inner)
    ),
    max_leaves=12,
)


@given(JSON_VALUES)
def test_any_json_is_a_pack_or_refused_in_words(value: object) -> None:
    said = said_of(records, json.dumps(value))
    assert said
    if said == "read":
        found = records(json.dumps(value))
        assert all(abs(each.value) < float("inf") and each.name for each in found)


@given(st.binary(max_size=200))
def test_any_bytes_are_a_pack_or_refused_in_words(garbage: bytes) -> None:
    assert said_of(lambda each: parse_pack(each, NOW), garbage)


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["heart", "water_in", "a:b"]),
            st.floats(-1e6, 1e6),
            st.floats(-60, 0),
        ),
        min_size=1,
        max_size=20,
    )
)
def test_a_pack_says_the_same_with_and_without_base_fields(
    values: list[tuple[str, float, float]],
) -> None:
    # Given the same records written out, and with a base name and a base time
    bare = [{"n": f"urn:x:{n}", "v": v, "t": 1.5e9 + t, "u": "Cel"} for n, v, t in values]
    based: list[dict[str, object]] = [{"n": n, "v": v, "t": t} for n, v, t in values]
    based[0] |= {"bn": "urn:x:", "bt": 1.5e9, "bu": "Cel"}
    # When both are resolved, then they are the same
    assert records(json.dumps(bare)) == records(json.dumps(based))
