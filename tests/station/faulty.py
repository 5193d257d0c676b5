"""Stations with something wrong in them: each is the demo station with one thing spoilt."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

W1, W2, W3 = "wearers/W1.yaml", "wearers/W2.yaml", "wearers/W3.yaml"
SITE, LIMITS = "station.yaml", "limits.yaml"
DIPPER, WAGTAIL = "suits/dipper.yaml", "suits/wagtail.yaml"
KIT = "kits/dipper.yaml"
PEOPLE, ITEMS, PANELS, DRILLS = "people.yaml", "kit_items.yaml", "panels.yaml", "drills.yaml"
YARD, FLOOR, BENCH = "runs/yard-walk.yaml", "runs/floor-survey.yaml", "runs/bench-climb.yaml"

Spoil = Callable[[Path], None]


def write_demo(folder: Path) -> None:
    """Write the shipped demo station into a folder."""
    source = Path(str(files("neckring.station") / "demo"))
    for file in source.rglob("*.yaml"):
        copied = folder / file.relative_to(source)
        copied.parent.mkdir(parents=True, exist_ok=True)
        copied.write_bytes(file.read_bytes())


@dataclass(frozen=True)
class Swap:
    """Replaces one text of a file by another; the text must be there."""

    file: str
    old: str
    new: str
    all: bool = False

    def __call__(self, folder: Path) -> None:
        path = folder / self.file
        text = path.read_text(encoding="utf-8")
        assert self.old in text, f"{self.old!r} is not in {self.file}"
        path.write_text(text.replace(self.old, self.new, -1 if self.all else 1), encoding="utf-8")


@dataclass(frozen=True)
class Put:
    """Writes a whole file."""

    file: str
    content: bytes

    def __call__(self, folder: Path) -> None:
        (folder / self.file).write_bytes(self.content)


@dataclass(frozen=True)
class Append:
    """Adds text at the end of a file."""

    file: str
    text: str

    def __call__(self, folder: Path) -> None:
        with (folder / self.file).open("a", encoding="utf-8") as stream:
            stream.write(self.text)


def _several(*spoils: Spoil) -> Spoil:
    def spoil(folder: Path) -> None:
        for each in spoils:
            each(folder)

    return spoil


def _remove(file: str) -> Spoil:
    return lambda folder: (folder / file).unlink()


def _rename(old: str, new: str) -> Spoil:
    return lambda folder: (folder / old).rename(folder / new) and None


def _folder_as_file(folder: Path) -> None:
    (folder / W3).unlink()
    (folder / W3).mkdir()


def _symlink_loop(folder: Path) -> None:
    (folder / W3).unlink()
    os.symlink("W3.yaml", folder / W3)


def _fifo(folder: Path) -> None:
    (folder / W3).unlink()
    os.mkfifo(folder / W3)


def _bomb() -> bytes:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    for i in range(1, 10):
        lines.append(f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]")
    return "\n".join(lines).encode() + b"\n"


def _many_aliases() -> bytes:
    return b"a: &a {b: 1}\nc: [" + b", ".join([b"*a"] * 200) + b"]\n"


FACILITY = """facility:
  water_temperature: 16 degC +/- 1
  water_flow: 1.4 L/min
  air_flow: 220 L/min
  air_temperature: 18 degC
  air_relative_humidity: 40 %
  reaches: [bay]
"""


SHED = "{air_temperature: 9 degC, relative_humidity: 60 %, wind: 0.1 m/s}"


def _limit(old: str, new: str) -> Spoil:
    return Swap(LIMITS, old, new)


def _console(old: str, new: str) -> Spoil:
    return Swap(SITE, old, new)


FAULTY: dict[str, Spoil] = {
    # Single values
    "age_400": Swap(W1, "age: 34 yr", "age: 400 yr"),
    "negative_mass": Swap(W1, "mass: 66 kg", "mass: -66 kg"),
    "unit_missing": Swap(W1, "mass: 66 kg", "mass: 66"),
    "unit_unknown": Swap(YARD, "speed: 0.6 m/s, valve", "speed: 0.7 kph, valve"),
    "unit_of_other_dimension": Swap(SITE, "air_temperature: 19 degC", "air_temperature: 30 W/K"),
    "unit_bare_celsius": Swap(SITE, "air_temperature: 19 degC", "air_temperature: 19 C"),
    "kelvin_by_mistake": Swap(SITE, "air_temperature: 19 degC", "air_temperature: 19 K"),
    "difference_in_degrees": _limit("value: 1.0 K\n    action", "value: 1.0 degC\n    action"),
    "percent_for_fraction": Swap(SITE, "relative_humidity: 45 %", "relative_humidity: 0.45"),
    "percent_of_percent": Swap(SITE, "relative_humidity: 45 %", "relative_humidity: 4500 %"),
    "percent_for_plain_number": Swap(DIPPER, "1.05..1.20", "105 %"),
    "spread_in_per_cent": Swap(DIPPER, "22 W/K +/- 6", "22 W/K +/- 10 %"),
    "spread_beyond_range": Swap(
        SITE, "relative_humidity: 60 % +/- 10", "relative_humidity: 92 % +/- 10"
    ),
    "spread_unfinished": Swap(DIPPER, "22 W/K +/- 6", "22 W/K +/-"),
    "spread_negative": Swap(DIPPER, "22 W/K +/- 6", "22 W/K +/- -6"),
    "spread_not_wanted": _limit("value: 38.5 degC", "value: 38.5 degC +/- 0.2"),
    "range_backwards": Swap(DIPPER, "20..60 W/K/kg", "60..20 W/K/kg"),
    "range_with_dash": Swap(DIPPER, "20..60 W/K/kg", "20-60 W/K/kg"),
    "range_with_long_dash": Swap(DIPPER, "20..60 W/K/kg", "20–60 W/K/kg"),
    "decimal_comma": Swap(SITE, "water_flow: 1.4 L/min", "water_flow: 1,4 L/min"),
    "gap_in_number": Swap(SITE, "length: 450 m", "length: 1 450 m"),
    "thin_gap_in_number": Swap(SITE, "length: 450 m", "length: 1\u2009450 m"),
    "not_a_number": Swap(W1, "height: 1.68 m", "height: .nan"),
    "infinite": Swap(DIPPER, "leak: 6 L/min", "leak: .inf"),
    "infinite_with_unit": Swap(DIPPER, "leak: 6 L/min", "leak: inf L/min"),
    "too_large_for_a_float": Swap(DIPPER, "leak: 6 L/min", "leak: 1e999 L/min"),
    "leak_of_nothing": Swap(DIPPER, "leak: 6 L/min", "leak: 0 L/min"),
    "words_for_quantity": Swap(W1, "mass: 66 kg", "mass: about 66 kg"),
    "long_text_for_quantity": Swap(W1, "mass: 66 kg", f"mass: 66 kg {'x' * 200}"),
    "nothing_for_quantity": Swap(W1, "mass: 66 kg", "mass:"),
    "null_for_optional": Swap(W1, "maximum_heart_rate: 184 bpm", "maximum_heart_rate: null"),
    "list_for_quantity": Swap(W1, "mass: 66 kg", "mass: [66 kg]"),
    "group_for_quantity": Swap(W1, "mass: 66 kg", "mass: {value: 66 kg}"),
    "on_for_yes": Swap(W1, "acclimatised: no", "acclimatised: on"),
    "on_for_group": Swap(DIPPER, "strap: {width: 70 mm, contact_length: 250 mm}", "strap: on"),
    "true_for_helmet": Swap(YARD, "helmet: on", "helmet: true"),
    "group_left_empty": Swap(DIPPER, "strap: {width: 70 mm, contact_length: 250 mm}", "strap:"),
    "unknown_word": Swap(SITE, "terrain: blacktop", "terrain: black top"),
    "word_in_capitals": Swap(W1, "sex: female", "sex: Female"),
    "half_a_fan": Swap(DIPPER, "fans: 2", "fans: 1.5"),
    "huge_count": Swap(DIPPER, "count: 40", f"count: {'9' * 60}"),
    "date_the_other_way": Swap(YARD, "date: 2026-11-27", "date: 27.11.2026"),
    "date_that_is_none": Swap(YARD, "date: 2026-11-27", "date: 2026-02-30"),
    "time_that_is_none": Swap(YARD, 'start: "10:00"', "start: 25:00"),
    "unknown_time_zone": Swap(SITE, "timezone: Etc/UTC", "timezone: Europe/Viena"),
    "code_with_space": Swap(W1, "code: W1", "code: Wearer 1"),
    "place_with_odd_code": Swap(SITE, "  floor:\n", "  quarry floor:\n"),
    # Keys
    "missing_key": Swap(W1, "age: 34 yr\n", ""),
    "missing_key_inside": Swap(DIPPER, "{kv: 0.5 m3/h, law", "{law"),
    "misspelt_key": Swap(W1, "acclimatised: no", "acclimatized: no"),
    "misspelt_key_inside": Swap(DIPPER, "rangeability: 40", "rangability: 40"),
    "unknown_key": Append(W1, "shoe_size: 39\n"),
    "key_twice": Append(W1, "mass: 70 kg\n"),
    "several_at_once": _several(
        Swap(W1, "age: 34 yr", "age: 4 yr"),
        Swap(W1, "mass: 66 kg", "mas: 66 kg"),
        Swap(SITE, "wind: 1.5 m/s", "wind: 1.5"),
        Swap(FLOOR, "wearer: W2", "wearer: W9"),
        Swap(LIMITS, "action: caution", "action: beware"),
    ),
    # Files
    "tabs": Swap(DIPPER, "  helmet: {insulation", "\thelmet: {insulation"),
    "indentation": Swap(DIPPER, "  trunk: {", "   trunk: {"),
    "brace_not_closed": Swap(DIPPER, "contact_length: 250 mm}", "contact_length: 250 mm"),
    "quote_not_closed": Swap(YARD, 'start: "10:00"', 'start: "10:00'),
    "second_colon": Swap(W1, "sex: female", "sex: female: yes"),
    "line_without_colon": Swap(W1, "sex: female", "sex female"),
    "star_in_text": Swap(FLOOR, "title: Sampling on the quarry floor", "title: *Sampling*"),
    "at_sign": Swap(FLOOR, "title: Sampling on the quarry floor", "title: @quarry"),
    "tag": Swap(W1, "mass: 66 kg", "mass: !!python/object/apply:os.system [ls]"),
    "two_documents": Append(W1, "---\ncode: W7\n"),
    "list_for_file": Put(W3, b"- code: W3\n- sex: female\n"),
    "text_for_file": Put(W3, b"just some words\n"),
    "empty_file": Put(W3, b""),
    "only_comments": Put(W3, b"# to be written\n"),
    "binary_file": Put(W3, bytes(range(256))),
    "nul_bytes": Put(W3, b"code: W3\nsex: \x00\x00female\n"),
    "latin_1": Put(W3, "code: W3\nabout: größe\n".encode("latin-1")),
    "utf_16": Put(W3, "code: W3\n".encode("utf-16")),
    "ten_megabytes": Put(W3, b"code: W3 # " + b"x" * 10_000_000),
    "alias_bomb": Put(W3, _bomb()),
    "many_aliases": Put(W3, _many_aliases()),
    "alias_of_itself": Put(W3, b"code: &a [*a]\n"),
    "deep_nesting": Put(W3, b"code: " + b"[" * 5000 + b"]" * 5000 + b"\n"),
    "merge_of_nothing": Put(W3, b"<<: 3\ncode: W3\n"),
    "folder_called_yaml": _folder_as_file,
    "symlink_to_itself": _symlink_loop,
    "pipe": _fifo,
    "file_called_yml": _rename(W3, "wearers/W3.yml"),
    "no_station_file": _remove(SITE),
    "no_limits_file": _rename(LIMITS, "limit.yaml"),
    "folder_misspelt": _rename("wearers", "wearer"),
    # What the files say of one another
    "two_wearers_with_one_code": Swap(W2, "code: W2", "code: W1"),
    "unknown_wearer": Swap(FLOOR, "wearer: W2", "wearer: w2"),
    "unknown_suit": Swap(FLOOR, "suit: dipper", "suit: diper"),
    "extends_itself": Swap(WAGTAIL, "extends: dipper", "extends: wagtail"),
    "extends_in_a_circle": Swap(DIPPER, "code: dipper", "code: dipper\nextends: wagtail"),
    "extends_nothing": Swap(WAGTAIL, "extends: dipper", "extends: heron"),
    "unknown_place": Swap(YARD, "spell: kneel, place: yard", "spell: kneel, place: yrad"),
    "path_to_nowhere": Swap(SITE, "{from: bay, to: yard,", "{from: bay, to: court,"),
    "path_to_itself": Swap(SITE, "{from: bay, to: yard,", "{from: bay, to: bay,"),
    "path_twice": Swap(
        SITE, "paths:\n", "paths:\n  - {from: yard, to: bay, length: 9 m, terrain: blacktop}\n"
    ),
    "path_too_steep": Swap(SITE, "rise: 38 m", "rise: 380 m"),
    "no_path": Swap(
        FLOOR, "{spell: walk, from: bay, to: yard", "{spell: walk, from: bay, to: floor"
    ),
    "jump": Swap(FLOOR, "{spell: kneel, place: floor", "{spell: kneel, place: bench"),
    "umbilical_too_short": Swap(YARD, "valve: 50 %}", "cooling: facility, air: pack}"),
    "facility_reaches_nothing": Swap(SITE, "  reaches: [bay]", "  reaches: []"),
    "no_facility": Swap(SITE, FACILITY, ""),
    "first_spell_says_nothing": Swap(
        YARD, "12 min, cooling: none, air: none, helmet: off", "12 min"
    ),
    "pack_without_valve": Swap(YARD, "cooling: pack, valve: 100 %", "cooling: pack"),
    # Spells
    "walk_without_speed": Swap(FLOOR, "to: floor, speed: 0.8 m/s", "to: floor"),
    "walk_with_for": Swap(FLOOR, "to: floor, speed: 0.8 m/s", "to: floor, for: 10 min"),
    "walk_too_fast": Swap(FLOOR, "to: floor, speed: 0.8 m/s", "to: floor, speed: 8 m/s"),
    "stand_without_time": Swap(
        YARD, "{spell: stand, place: yard, for: 4 min}", "{spell: stand, place: yard}"
    ),
    "stand_with_speed": Swap(
        YARD, "place: yard, for: 4 min}", "place: yard, for: 4 min, speed: 1 m/s}"
    ),
    "carry_without_load": Swap(FLOOR, "speed: 0.6 m/s, load: 5 kg", "speed: 0.6 m/s"),
    "work_without_rate": Swap(BENCH, "metabolic_rate: 420 W +/- 40, ", ""),
    "unknown_spell": Swap(FLOOR, "spell: hammer", "spell: hamer"),
    "no_spells": Put(
        YARD,
        b"code: yard-walk\ntitle: Nothing\nwearer: W3\nsuit: wagtail\n"
        b"date: 2026-11-27\nstart: 10:00\nouting: []\n",
    ),
    # Help
    "help_without_unit": Swap(DIPPER, "notice_air: 5..20 s", "notice_air: 5..20"),
    "help_at_once": Swap(DIPPER, "open_helmet: 10..30 s", "open_helmet: 0 s"),
    "help_too_slow": Swap(DIPPER, "undress: 2..4 min", "undress: 2..4 h"),
    "help_misspelt": Swap(DIPPER, "free_umbilical:", "free_umbilicle:"),
    "help_left_empty": Swap(
        FLOOR,
        "help: {tender: along, tenders: 2, tender_speed: 1.0..1.5 m/s, call_every: 5 min}",
        "help:",
    ),
    "carried_too_fast": Swap(DIPPER, "carry_speed: 0.3..0.5 m/s", "carry_speed: 0.3..5 m/s"),
    "tender_speed_as_time": Swap(BENCH, "tender_speed: 1.0..1.5 m/s", "tender_speed: 1.0..1.5 min"),
    "no_tender": Swap(BENCH, "tenders: 2", "tenders: 0"),
    "half_a_tender": Swap(BENCH, "tenders: 2", "tenders: 1.5"),
    "calls_with_spread": Swap(BENCH, "call_every: 5 min", "call_every: 4..6 min"),
    "unknown_tender_place": Swap(BENCH, "tender: along", "tender: flor"),
    "tender_allong": Swap(BENCH, "tender: along", "tender: allong"),
    "tender_with_space": Swap(BENCH, "tender: along", "tender: quarry floor"),
    "tender_without_path": _several(
        Swap(SITE, "places:\n", f"places:\n  shed: {SHED}\n"),
        Swap(BENCH, "tender: along", "tender: shed"),
    ),
    "place_called_along": Swap(SITE, "places:\n", f"places:\n  along: {SHED}\n"),
    "unknown_partner": Swap(BENCH, "call_every: 5 min}", "call_every: 5 min, partner: w1}"),
    "own_partner": Swap(BENCH, "call_every: 5 min}", "call_every: 5 min, partner: W1}"),
    "air_reserve_too_long": Swap(SITE, "air_reserve: 15 s", "air_reserve: 45 min"),
    "air_reserve_with_spread": Swap(SITE, "air_reserve: 15 s", "air_reserve: 15 s +/- 5"),
    "lift_limit_in_stone": Swap(SITE, "lift_limit: 15.9 kg", "lift_limit: 2.5 st"),
    "lift_limit_of_a_crane": Swap(SITE, "lift_limit: 15.9 kg", "lift_limit: 500 kg"),
    # Sensors
    "sensor_unit_annotated": Swap(DIPPER, "    unit: L/min\n", '    unit: "L/min{STP}"\n'),
    "sensor_unit_as_elsewhere": Swap(DIPPER, "unit: /min, every", "unit: bpm, every"),
    "sensor_unit_in_brackets": Swap(DIPPER, 'unit: "%"\n', "unit: [ppm]\n"),
    "sensor_unit_of_other_quantity": Swap(DIPPER, "unit: V, plausible", "unit: kPa, plausible"),
    "sensor_of_unknown_quantity": Swap(DIPPER, "measures: heart_rate", "measures: hart_rate"),
    "sensor_flow_without_reference": Swap(
        DIPPER, "    reference: {temperature: 0 degC, pressure: 101.325 kPa}\n", ""
    ),
    "sensor_flow_without_temperature": Swap(
        DIPPER, "{temperature: 0 degC, pressure: 101.325 kPa}", "{pressure: 101.325 kPa}"
    ),
    "sensor_share_without_reference": Swap(DIPPER, "    reference: actual\n", ""),
    "sensor_share_with_temperature": Swap(
        DIPPER, "reference: actual", "reference: {temperature: 0 degC, pressure: 101.3 kPa}"
    ),
    "sensor_reference_misspelt": Swap(DIPPER, "reference: actual", "reference: actul"),
    "sensor_reference_out_of_place": Swap(
        DIPPER, "unit: kPa, every: 1 s}", "unit: kPa, every: 1 s, reference: actual}"
    ),
    "sensor_plausible_in_one_value": Swap(DIPPER, "plausible: 9..18 V", "plausible: 14 V"),
    "sensor_plausible_in_other_unit": Swap(DIPPER, "plausible: 9..18 V", "plausible: 9..18 Ah"),
    "sensor_plausible_beyond_reach": Swap(DIPPER, "plausible: 9..18 V", "plausible: 9..180 V"),
    "sensor_accuracy_of_nothing": Swap(DIPPER, "accuracy: 0.05 kPa", "accuracy: 0 kPa"),
    "sensor_jump_in_degrees": Swap(
        DIPPER, "unit: Cel, every: 5 s}", "unit: Cel, every: 5 s, jump: 2 degC}"
    ),
    "sensor_never_heard": Swap(DIPPER, "unit: /min, every: 1 s", "unit: /min"),
    "sensor_frozen_too_soon": Swap(
        DIPPER,
        "plausible: 9..18 V, every: 5 s",
        "plausible: 9..18 V, every: 5 s, frozen_after: 9 s",
    ),
    "sensor_channel_twice": Swap(DIPPER, "channel: water_out", "channel: water_in"),
    "sensor_name_twice": Swap(DIPPER, "channel: water_out,", "channel: water_out, name: water_in,"),
    "sensor_name_with_space": Swap(
        DIPPER, "channel: water_out,", "channel: water_out, name: water out,"
    ),
    "sensors_left_empty": Append(WAGTAIL, "sensors:\n"),
    # What contradicts itself
    "shares_do_not_add_up": Swap(DIPPER, "thighs: 26 %", "thighs: 16 %"),
    "circuit_leaves_out": Swap(
        DIPPER, "circuits: parallel", "circuits: [[chest, back], [pelvis, head]]"
    ),
    "circuit_word": Swap(DIPPER, "circuits: parallel", "circuits: series"),
    "cut_off_above_nominal": Swap(DIPPER, "cut_off_voltage: 12.0 V", "cut_off_voltage: 16 V"),
    "pump_too_strong": Swap(
        DIPPER, "free_flow: 3.0 L/min, power: 9 W", "free_flow: 30 L/min, power: 3 W"
    ),
    "heart_slower_than_at_rest": _several(
        Swap(W1, "resting_heart_rate: 62 bpm +/- 4", "resting_heart_rate: 110 bpm"),
        Swap(W1, "maximum_heart_rate: 184 bpm", "maximum_heart_rate: 105 bpm"),
    ),
    # Limits
    "limit_example_crossed": _limit(
        "{reading: 38.6 degC, crossed: yes}", "{reading: 38.6 degC, crossed: no}"
    ),
    "limit_example_value": _limit(
        "limit: 140 bpm, reading: 141 bpm", "limit: 150 bpm, reading: 151 bpm"
    ),
    "limit_turned_round": _limit("per_year_of_age: -1 bpm", "per_year_of_age: 1 bpm"),
    "limit_below_for_above": _limit(
        "stop_if: above\n    value: 38.5", "stop_if: below\n    value: 38.5"
    ),
    "limit_without_age": _limit("{age: 40 yr, limit", "{limit"),
    "limit_of_unknown_quantity": _limit("quantity: heart_rate ", "quantity: hart_rate "),
    "limit_in_wrong_unit": _limit("value: 2.53 kPa", "value: 2.5 %"),
    "limit_out_of_range": _limit("value: 38.5 degC", "value: 385 degC"),
    "limit_unsigned": _limit("    signed_by: M1\n", ""),
    "limits_empty": Put(LIMITS, b"limits: []\n"),
    # Console
    "console_unknown_procedure": _console("[dress, changeover,", "[dress, change-over,"),
    "console_procedure_twice": _console("return, undress]", "return, undress, undress]"),
    "console_procedures_out_of_order": _console("[dress, changeover, go,", "[dress, go,"),
    "console_card_without_when": _console("[air-lost, wearer-down", "[air-lost, go"),
    "console_card_unknown": _console("[air-lost, wearer-down", "[air-lost, wearer-up"),
    "console_nobody_leads": _console("{L1: lead, T1", "{L1: tender, T1"),
    "console_unknown_part": _console("M1: medic", "M1: doctor"),
    "console_too_few_for_two": _console("roles: [lead, tender, medic]", "roles: [medic]"),
    "console_half_a_person": _console("{people: 1, roles", "{people: 0.5, roles"),
    "console_call_without_unit": _console("every: 5 min", "every: 5"),
    "console_no_questions": _console(
        'questions: [How do you feel?, Any headache?, How warm are you?, "What do you see ahead?"]',
        "questions: []",
    ),
    "console_question_twice": _console("Any headache?", "How do you feel?"),
    "console_clock_of_unknown_thing": _console("starts: place is away", "starts: plaice is away"),
    "console_clock_of_unknown_state": _console("ends: place is bay", "ends: place is home"),
    "console_clock_of_named_wearer": _console("starts: sealed", "starts: A.sealed"),
    "console_clock_word": _console("lasts: battery", "lasts: batery"),
    "console_clock_too_short": _console("lasts: 90 min", "lasts: 0 s"),
    "console_clock_with_spread": _console("lasts: 90 min", "lasts: 80..90 min"),
    "console_clock_twice": _console("{code: helmet, words", "{code: battery, words"),
    "console_misspelt_key": _console("second_person:", "second_persons:"),
    "console_for_another_number": Swap("procedures/undress.yaml", "wearers: 2", "wearers: 1"),
    # Instruments and what may be done while a run is stopped
    "reads_without_unit": Swap(KIT, "reads: 16.0 V or more", "reads: 16.0 or more"),
    "reads_with_spread": Swap(KIT, "reads: 0 kg", "reads: 0 kg +/- 1"),
    "reads_backwards": Swap(KIT, "reads: 40..130 bpm", "reads: 130..40 bpm"),
    "reads_of_what_is_felt": Swap(
        KIT,
        "sense: felt, by: [self], takes: 4..8..20 s",
        "sense: felt, by: [self], takes: 4..8..20 s, reads: 6 degC",
    ),
    "when_stopped_perhaps": Swap(KIT, "when_stopped: yes", "when_stopped: perhaps"),
    # Fit: measures in the wrong unit, places, adjusters, kept settings
    "height_in_millimetres": Swap(W1, "height: 1.68 m", "height: 1.75 mm"),
    "height_in_inches_as_centimetres": Swap(W1, "height: 1.68 m", "height: 69 cm"),
    "height_in_feet_without_unit": Swap(W1, "height: 1.68 m", "height: 5.6"),
    "mass_in_grams": Swap(W1, "mass: 66 kg", "mass: 66 g"),
    "measure_in_inches_as_centimetres": Swap(
        W1, "biacromial_breadth: 368 mm", "biacromial_breadth: 14.5 cm"
    ),
    "measure_without_unit": Swap(W1, "hip_breadth: 356 mm", "hip_breadth: 35.6"),
    "measure_misspelt": Swap(W1, "bideltoid_breadth:", "bideltoyd_breadth:"),
    "measures_exchanged": _several(
        Swap(W1, "biacromial_breadth: 368 mm", "biacromial_breadth: 447 mm"),
        Swap(W1, "bideltoid_breadth: 447 mm", "bideltoid_breadth: 368 mm"),
    ),
    "measure_above_height": Swap(W1, "crotch_height: 812 mm", "shoulder_height: 1750 mm"),
    "fit_place_unknown": Swap(DIPPER, "    hatch: {room", "    hach: {room"),
    "fit_place_turned_round": Swap(
        DIPPER, "trunk: {room: 1600 mm, least: 0 mm", "trunk: {room: 1600 mm, least: 60 mm"
    ),
    "fit_adjuster_acts_on_no_place": Swap(DIPPER, "acts_on: {gloves: 1}", "acts_on: {helmet: 1}"),
    "fit_adjuster_steps_past_end": Swap(
        DIPPER, "from: 0 mm, to: 160 mm, step: 20 mm", "from: 0 mm, to: 150 mm, step: 20 mm"
    ),
    "fit_adjuster_backwards": Swap(
        DIPPER, "from: 0 mm, to: 160 mm, step: 20 mm", "from: 160 mm, to: 0 mm, step: 20 mm"
    ),
    "settings_of_unknown_suit": Swap(W1, "  wagtail:\n", "  wagtale:\n"),
    "settings_of_unknown_adjuster": Swap(W1, "{harness: 120 mm", "{harnes: 120 mm"),
    "settings_between_positions": Swap(W1, "{harness: 120 mm", "{harness: 125 mm"),
    "settings_beyond_the_end": Swap(W1, "{harness: 120 mm", "{harness: 180 mm"),
    # People
    "people_none": Put(PEOPLE, b"people: {}\n"),
    "people_as_list": Put(PEOPLE, b"people: [L1, T1]\n"),
    "people_with_a_name": Swap(PEOPLE, "  T1:\n", "  T1:\n    name: somebody\n"),
    "people_with_a_birthday": Swap(PEOPLE, "  T1:\n", "  T1:\n    date of birth: 1990-01-01\n"),
    "people_code_twice": Swap(PEOPLE, "  T2:\n", "  T1:\n"),
    "people_codes_alike": Swap(PEOPLE, "  W2:\n", "  w1:\n"),
    "people_code_with_space": Swap(PEOPLE, "  W2:\n", "  W 2:\n"),
    "people_unknown_key": Swap(PEOPLE, "    signed_off:\n", "    sign_offs:\n"),
    "people_unknown_skill": Swap(PEOPLE, "{skill: leading, how", "{skill: leeding, how"),
    "people_unknown_skill_of_role": Swap(PEOPLE, "skills: {suited:", "skills: {suted:"),
    "people_unknown_clearance": Swap(
        PEOPLE, "{medical: {on: 2026-03-02", "{medicl: {on: 2026-03-02"
    ),
    "people_unknown_clearance_of_role": Swap(
        PEOPLE, "clearances: [medical], consent", "clearances: [medicl], consent"
    ),
    "people_clearance_of_role_twice": Swap(
        PEOPLE, "[medical], consent", "[medical, medical], consent"
    ),
    "people_how_well": Swap(PEOPLE, "{skill: leading, how: alone", "{skill: leading, how: well"),
    "people_sign_off_as_text": Swap(
        PEOPLE,
        "    signed_off: [{skill: emergency, how: alone, on: 2026-11-09, by: R1}]",
        "    signed_off: emergency",
    ),
    "people_sign_off_by_oneself": Swap(
        PEOPLE,
        "leading, how: alone, on: 2026-09-14, by: R1",
        "leading, how: alone, on: 2026-09-14, by: L1",
    ),
    "people_sign_off_without_day": Swap(PEOPLE, "how: alone, on: 2026-09-14, by", "how: alone, by"),
    "people_day_the_other_way": Swap(PEOPLE, "on: 2026-09-14", "on: 14.9.2026"),
    "people_lapse_in_months": Swap(PEOPLE, "lapses_after: 90}", "lapses_after: 3 months}"),
    "people_lapse_of_nothing": Swap(PEOPLE, "lapses_after: 90}", "lapses_after: 0}"),
    "people_clearance_backwards": Swap(PEOPLE, "until: 2027-03-01", "until: 2025-03-01"),
    "people_consent_withdrawn_before": Swap(
        PEOPLE, "on: 2026-10-05, until: 2027-10-04}", "on: 2026-10-05, withdrawn: 2026-10-01}"
    ),
    "people_consent_without_version": Swap(PEOPLE, "consent_version: v3 ", "# "),
    "people_consent_as_word": Swap(
        PEOPLE, "consent: {version: v3, on: 2026-10-05, until: 2027-10-04}", "consent: yes"
    ),
    "people_card_without_unit": Swap(PEOPLE, "heart_rate: 61 bpm", "heart_rate: 61"),
    "people_card_in_other_unit": Swap(PEOPLE, "systolic: 118 mmHg", "systolic: 118 kPa"),
    "people_card_fahrenheit": Swap(PEOPLE, "temperature: 36.6 degC", "temperature: 97.9 degC"),
    "people_card_upside_down": Swap(
        PEOPLE, "systolic: 118 mmHg, diastolic: 74", "systolic: 74 mmHg, diastolic: 118"
    ),
    "people_gate_example": Swap(
        PEOPLE, "{reading: 104 bpm, stops: yes}", "{reading: 104 bpm, stops: no}"
    ),
    "people_gate_quantity": Swap(
        PEOPLE, "quantity: heart_rate, stop_if", "quantity: hart_rate, stop_if"
    ),
    "people_gate_unit": Swap(PEOPLE, "value: 150 mmHg", "value: 150 bpm"),
    # Kit by serial
    "items_unknown_part": Swap(ITEMS, "{part: fan, kit: KA}", "{part: fann, kit: KA}"),
    "items_unknown_kit": Swap(ITEMS, "{part: fan, kit: KA}", "{part: fan, kit: KX}"),
    "items_kit_of_unknown_suit": Swap(ITEMS, "suit: dipper", "suit: diper"),
    "items_serial_twice": Swap(ITEMS, "  FA2: {part", "  FA1: {part"),
    "items_serials_alike": Swap(ITEMS, "  FA2: {part", "  fa1: {part"),
    "items_serial_of_figures": Swap(ITEMS, "  FA2: {part", "  1042: {part"),
    "items_bag_with_code_of_item": Swap(ITEMS, "  bag-a: {words", "  FA1: {words"),
    "items_bag_of_unknown_kit": Swap(ITEMS, "stand A, kit: KA", "stand A, kit: KC"),
    "items_half_a_pin": Swap(ITEMS, "pins: 12", "pins: 11.5"),
    "items_pins_with_unit": Swap(ITEMS, "pins: 12", "pins: 12 pieces"),
    "items_no_pins": Swap(ITEMS, "pins: 12", "pins: 0"),
    "items_bag_holds_nothing": Swap(ITEMS, "{shears: 3, wipes: 40}", "{}"),
    "items_check_on_unknown_part": Swap(ITEMS, "parts: [pump]", "parts: [pumpe]"),
    "items_check_on_one_part_twice": Swap(ITEMS, "parts: [pump]", "parts: [pump, pump]"),
    "items_check_on_no_part": Swap(ITEMS, "parts: [pump]", "parts: []"),
    "items_check_unit_unknown": Swap(ITEMS, "1.2 L/min or more", "1.2 lpm or more"),
    "items_check_without_unit": Swap(ITEMS, "1.2 L/min or more", "1.2 or more"),
    "items_check_backwards": Swap(ITEMS, "16.0..16.9 V", "16.9..16.0 V"),
    "items_check_valid_without_unit": Swap(ITEMS, "valid_for: 720 h", "valid_for: 720"),
    "items_check_valid_in_days": Swap(ITEMS, "valid_for: 720 h", "valid_for: 30 days"),
    "items_check_without_source": Swap(
        ITEMS, "valid_for: 12 h, source: invented, verified", "valid_for: 12 h, verified"
    ),
    "items_severity": Swap(ITEMS, "severity: grounds}", "severity: serious}"),
    "items_part_without_words": Swap(ITEMS, "    words: helmet fan\n", ""),
    "items_part_misspelt_key": Swap(ITEMS, "dries_in: 4 h", "drys_in: 4 h"),
    "items_dries_in_kilograms": Swap(ITEMS, "dries_in: 4 h", "dries_in: 4 kg"),
    "items_dries_with_spread": Swap(ITEMS, "dries_in: 4 h", "dries_in: 3..5 h"),
    "items_charge_in_watt_hours": Swap(ITEMS, "rated_charge: 12 Ah", "rated_charge: 178 Wh"),
    "items_charge_of_a_lorry": Swap(ITEMS, "rated_charge: 12 Ah", "rated_charge: 1200 Ah"),
    "items_single_use_perhaps": Swap(ITEMS, "single_use: yes", "single_use: once"),
    "items_until_the_other_way": Swap(ITEMS, "until: 2027-06-30", "until: 30/06/2027"),
    "items_repeats_once": Swap(ITEMS, "same_item: 2", "same_item: 1"),
    "items_as_list": Put(ITEMS, b"parts:\n  fan: {words: fan}\nitems: [FA1, FA2]\n"),
    "items_without_parts": Put(ITEMS, b"items:\n  FA1: {part: fan}\n"),
    # Panels
    "panels_none": Put(PANELS, b"panels: {}\n"),
    "panels_code_twice": Swap(PANELS, "  safety: {", "  ethics: {"),
    "panels_within_without_unit": Swap(PANELS, "within: 24 h", "within: 24"),
    "panels_within_in_weeks": Swap(PANELS, "within: 24 h", "within: 2 weeks"),
    "panels_within_nothing": Swap(PANELS, "within: 24 h", "within: 0 h"),
    "panels_unknown_key": Swap(PANELS, "words: safety board", "name: safety board"),
    "panels_verified_perhaps": Swap(PANELS, "verified: no", "verified: maybe"),
    "panels_holiday_twice": Swap(PANELS, "[2026-12-25, 2027-01-01]", "[2026-12-25, 2026-12-25]"),
    "panels_holiday_that_is_none": Swap(PANELS, "2027-01-01", "2027-02-30"),
    "panels_as_text": Swap(
        PANELS,
        "{words: safety board, within: 24 h, source: invented for the demo, verified: no}",
        "safety board",
    ),
    # Drills
    "drills_none": Put(DRILLS, b"drills: []\n"),
    "drills_unknown_key_of_help": Swap(DRILLS, "key: open_helmet,", "key: open_helm,"),
    "drills_unknown_suit": Swap(DRILLS, "suit: dipper", "suit: diper"),
    "drills_without_unit": Swap(DRILLS, "took: 7.4 s", "took: 7.4"),
    "drills_in_metres": Swap(DRILLS, "took: 7.4 s", "took: 7.4 m"),
    "drills_with_spread": Swap(DRILLS, "took: 7.4 s", "took: 7..8 s"),
    "drills_of_nothing": Swap(DRILLS, "took: 7.4 s", "took: 0 s"),
    "drills_of_hours": Swap(DRILLS, "took: 7.4 s", "took: 2 h"),
    "drills_day_that_is_none": Swap(DRILLS, "on: 2026-11-09", "on: 2026-11-31"),
    "drills_unknown_key": Swap(DRILLS, "took: 7.4 s", "took: 7.4 s, wearer: W1"),
    "drills_speed_too_slow": Swap(DRILLS, "took: 7.4 s", "took: 7.4 s, speed: 0.5"),
    "drills_as_group": Put(DRILLS, b"drills: {open_helmet: 7.4 s}\n"),
    # Labels and tags of a kit
    "label_on_unknown_thing": Swap(KIT, "{text: LOCK, on: helmet,", "{text: LOCK, on: helmt,"),
    "label_unknown_key": Swap(KIT, "{text: LOCK,", "{text: LOCK, colour: blue,"),
    "label_twice": Swap(KIT, "  visor_mark: {text", "  helmet_mark: {text"),
    "label_values": _several(
        Swap(KIT, "{text: LOCK,", "{text: Lock,"),
        Swap(KIT, "mirror, distance: 0.8 m", "mirror, distance: 0.8"),
        Swap(KIT, "seen_through: curved or fogged visor}", "seen_through: fog}"),
        Swap(KIT, "text: VISOR OPEN", f"text: {'OPEN ' * 8}"),
        Swap(KIT, "mirror, distance: 0.6 m", "mirror, distance: 0.6 s"),
        Swap(KIT, "mirror, distance: 0.8 m", "mirror, distance: 80 m"),
        Swap(KIT, "read_by: partner", "read_by: medic"),
    ),
    "tags_that_look_alike": _several(
        Swap(KIT, "letter: W,", "letter: C,"),
        Swap(KIT, "shape: triangle down", "shape: triangle up"),
        Swap(KIT, "connector: 8 mm plug", "connector: 8 mm  Socket"),
    ),
    "tag_values": _several(
        Swap(KIT, "letter: W,", "letter: w,"),
        Swap(KIT, "colour: vermillion", "colour: red"),
        Swap(KIT, "rings: 2", "rings: 1.5"),
        Swap(KIT, "flow: from the wearer", "flow: back"),
    ),
}
"""Name to what is spoilt."""
