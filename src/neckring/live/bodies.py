"""The bodies of deeds: which keys, of which type, how large; and reading them without a crash.

What comes in from a tablet is held against `FORMS` before anything else. What stands in the book
already is read by `text_in` and its like, which take whatever is there.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from neckring.live.entries import Body, Deed, Json, Kind, Role

KEY = re.compile(r"[A-Za-z0-9][A-Za-z0-9._:/-]{0,99}")
DEVICE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
LETTERS = ("A", "B")
BOTH = "both"
LONGEST_WORDS = 500
LONGEST_SHOWN = 4000
LONGEST_CODE = 64
MOST_BYTES = 16_000
KEPT_BYTES = 2_000
MOST_STEPS = 500
DEEPEST = 8
LARGEST = 1e300


@dataclass(frozen=True)
class Form:
    """What one key of a body accepts.

    Attributes:
        accepts: Whether a value is accepted.
        words: What is accepted, in words.
        needed: Whether the key must be there.
    """

    accepts: Callable[[Json], bool]
    words: str
    needed: bool = True


def _is_words(longest: int) -> Callable[[Json], bool]:
    return lambda v: isinstance(v, str) and len(v) <= longest and bool(v.strip()) and _clean(v)


def _is_maybe_words(longest: int) -> Callable[[Json], bool]:
    return lambda v: isinstance(v, str) and len(v) <= longest and _clean(v)


def _clean(text: str) -> bool:
    """Whether every letter can be shown; a line may end, and nothing else may control anything."""
    return all(letter.isprintable() or letter == "\n" for letter in text)


def _is_whole(lowest: int, highest: int) -> Callable[[Json], bool]:
    return lambda v: isinstance(v, int) and not isinstance(v, bool) and lowest <= v <= highest


def _is_number(value: Json) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < LARGEST


def _is_measured(value: Json) -> bool:
    if not isinstance(value, dict) or set(value) != {"value", "unit"}:
        return False
    figure, unit = value["value"], value["unit"]
    short = isinstance(unit, str) and len(unit) <= 16 and _clean(unit)
    return short and (_is_number(figure) or (isinstance(figure, str) and len(figure) <= 32))


def _is_answers(value: Json) -> bool:
    spoken = _is_words(LONGEST_WORDS)
    return (
        isinstance(value, dict)
        and 1 <= len(value) <= 12
        and all(spoken(question) and spoken(answer) for question, answer in value.items())
    )


def _is_codes(value: Json) -> bool:
    code = _is_words(LONGEST_CODE)
    return isinstance(value, dict) and all(code(k) and code(v) for k, v in value.items())


def _is_list(value: Json) -> bool:
    code = _is_words(LONGEST_CODE)
    return isinstance(value, list) and len(value) <= 8 and all(code(each) for each in value)


def _is_group(value: Json) -> bool:
    return isinstance(value, dict)


CODE = Form(_is_words(LONGEST_CODE), "a code")
WORDS = Form(_is_words(LONGEST_WORDS), f"some words, at most {LONGEST_WORDS} letters")
MAYBE_WORDS = Form(_is_maybe_words(LONGEST_WORDS), WORDS.words, needed=False)
SHOWN = Form(_is_words(LONGEST_SHOWN), "what the prover said, as it was shown")
STEP = Form(_is_whole(1, MOST_STEPS), "the printed number of a step")
LETTER = Form(lambda v: v in LETTERS, "A or B")
MAYBE_LETTER = Form(lambda v: v in (*LETTERS, ""), "A, B or nobody", needed=False)
WHOM = Form(lambda v: v in (*LETTERS, BOTH), "A, B or both", needed=False)
ACCEPTS = Form(lambda v: isinstance(v, bool), "true or false", needed=False)
NUMBER = Form(_is_whole(0, 1_000_000), "a whole number")
MEASURED = Form(_is_measured, "a value and its unit", needed=False)
SHARE = Form(lambda v: _is_number(v) and 0.0 <= float(str(v)) <= 1.0, "a share from 0 to 1")
RANK = Form(_is_whole(1, 3), "a rank from 1 to 3")
GROUP = Form(_is_group, "a group of keys", needed=False)
TEXTS = Form(lambda v: isinstance(v, list) and all(isinstance(t, str) for t in v), "words", False)
PROCEDURE_STEP = {"procedure": CODE, "step": STEP}
CARD = {"card": CODE, "wearer": LETTER}

FORMS: Mapping[Kind, Mapping[str, Form]] = {
    Kind.RUN_OPENED: {
        "runs": Form(_is_list, "one or two codes of runs"),
        "sheet": Form(_is_words(LONGEST_WORDS), "a digest"),
        "people": Form(_is_codes, "codes and parts"),
        "parts": Form(_is_group, "files and digests", needed=False),
        "boot": MAYBE_WORDS,
    },
    Kind.RUN_CLOSED: {"reason": WORDS, "accepts": ACCEPTS},
    Kind.PROCEDURE_BEGUN: {"procedure": CODE, "reason": MAYBE_WORDS, "accepts": ACCEPTS},
    Kind.PROCEDURE_ENDED: {"procedure": CODE, "reason": MAYBE_WORDS, "accepts": ACCEPTS},
    Kind.STEP_DONE: {
        **PROCEDURE_STEP,
        "measured": MEASURED,
        "answer": MAYBE_WORDS,
        "reason": MAYBE_WORDS,
        "accepts": ACCEPTS,
    },
    Kind.STEP_CONFIRMED: PROCEDURE_STEP,
    Kind.STEP_FAILED: {**PROCEDURE_STEP, "what": WORDS},
    Kind.STEP_LEFT_OUT: {**PROCEDURE_STEP, "reason": WORDS, "shown": SHOWN, "accepts": ACCEPTS},
    Kind.STEP_MOVED: {
        **PROCEDURE_STEP,
        "before": STEP,
        "reason": WORDS,
        "shown": SHOWN,
        "accepts": ACCEPTS,
    },
    Kind.SPELL_BEGUN: {"wearer": LETTER, "spell": Form(_is_whole(0, 499), "a spell's number")},
    Kind.HOLD: {"reason": MAYBE_WORDS},
    Kind.STOP: {"reason": MAYBE_WORDS, "wearer": WHOM},
    Kind.RESUME: {"reason": WORDS},
    Kind.TURN_BACK: {"wearer": LETTER, "reason": MAYBE_WORDS},
    Kind.CALL_ANSWERED: {
        "wearer": LETTER,
        "call": NUMBER,
        "answers": Form(_is_answers, "the questions and what was answered"),
    },
    Kind.CALL_MISSED: {"wearer": LETTER, "call": NUMBER},
    Kind.SYMPTOM: {"wearer": LETTER, "words": WORDS},
    Kind.CARD_OPENED: CARD,
    Kind.CARD_STEP_DONE: {**CARD, "step": STEP},
    Kind.CARD_CLOSED: {**CARD, "reason": WORDS},
    Kind.ALARM_RAISED: {
        "alarm": Form(_is_words(LONGEST_WORDS), "an alarm's key"),
        "rank": RANK,
        "cause": CODE,
        "wearer": MAYBE_LETTER,
        "words": WORDS,
        "first_action": MAYBE_WORDS,
        "also": TEXTS,
    },
    Kind.ALARM_ACKNOWLEDGED: {"alarm": Form(_is_words(LONGEST_WORDS), "an alarm's key")},
    Kind.ALARM_ENDED: {
        "alarm": Form(_is_words(LONGEST_WORDS), "an alarm's key"),
        "why": MAYBE_WORDS,
    },
    Kind.RELEASED: {"wearer": LETTER, "reason": MAYBE_WORDS},
    Kind.NOTE: {"words": WORDS, "wearer": MAYBE_LETTER},
    Kind.PAIRED: {
        "device": Form(lambda v: isinstance(v, str) and bool(DEVICE.fullmatch(v)), "a device"),
        "role": CODE,
        "person": Form(_is_maybe_words(LONGEST_CODE), "a person's code"),
    },
    Kind.UNPAIRED: {
        "device": Form(lambda v: isinstance(v, str) and bool(DEVICE.fullmatch(v)), "a device")
    },
    Kind.FAULT_BEGUN: {"wearer": LETTER, "fault": CODE, "share": SHARE},
    Kind.FAULT_ENDED: {"wearer": LETTER, "fault": CODE},
    Kind.RESTARTED: {
        "after": NUMBER,
        "sheet": MAYBE_WORDS,
        "parts": GROUP,
        "changed": TEXTS,
        "boot": MAYBE_WORDS,
    },
}
"""Of each kind that may be asked for; an estimate's body is whatever the estimate says."""


def key_fault(deed: Deed) -> str:
    """What is wrong with the key or the device of a deed, in words; empty when nothing is."""
    own = deed.role is Role.DESK and len(deed.key) <= LONGEST_WORDS and deed.key.isprintable()
    if not own and not KEY.fullmatch(deed.key):
        return "its key is not one: 1 to 100 letters, figures, . _ : / or -"
    if not DEVICE.fullmatch(deed.actor):
        return "its person has no proper code: 1 to 64 letters, figures, . _ or -"
    if not DEVICE.fullmatch(deed.device):
        return "its device has no proper name: 1 to 64 letters, figures, . _ or -"
    for clock in (deed.tapped_at, deed.offset):
        if clock is not None and not math.isfinite(clock):
            return "its time is not a number"
    return ""


def body_fault(kind: Kind, body: Body) -> str:
    """What is wrong with a body, in words; empty when nothing is."""
    if kind is Kind.REFUSED:
        return "a refusal is not asked for"
    if json_size(body) > MOST_BYTES:
        return f"it is too large: more than {MOST_BYTES} bytes"
    if kind is Kind.ESTIMATE:
        return "" if body.get("wearer") in LETTERS else "wearer: A or B is missing"
    return "; ".join(_key_faults(FORMS[kind], body))


def _key_faults(forms: Mapping[str, Form], body: Body) -> Iterator[str]:
    for key, form in forms.items():
        if key not in body:
            if form.needed:
                yield f"{key} is missing: {form.words}"
        elif not form.accepts(body[key]):
            yield f"{key}: not {form.words}"
    unknown = [key[:40] for key in body if key not in forms]
    if unknown:
        yield f"unknown: {', '.join(sorted(unknown)[:5])}"


def json_size(value: object) -> int:
    """Bytes of a value as JSON; more than is ever accepted when it is no JSON at all."""
    if not _is_shallow(value, DEEPEST):
        return MOST_BYTES + 1
    try:
        text = json.dumps(value, allow_nan=False, ensure_ascii=False, default=_no_json)
        return len(text.encode("utf-8"))
    except (TypeError, ValueError, RecursionError):
        return MOST_BYTES + 1


def _no_json(value: object) -> object:
    if isinstance(value, Mapping):
        return dict(value)
    raise TypeError


def _is_shallow(value: object, depth: int) -> bool:
    if isinstance(value, Mapping):
        return depth > 0 and all(_is_shallow(part, depth - 1) for part in value.values())
    if isinstance(value, list):
        return depth > 0 and all(_is_shallow(part, depth - 1) for part in value)
    return True


def kept_body(body: Body) -> dict[str, Json]:
    """What of a refused body stands in the book: all of it, or how large it was."""
    size = json_size(body)
    # A letter of nothing is no text for every database.
    if size <= KEPT_BYTES and "\\u0000" not in json.dumps(dict(body), default=_no_json):
        return dict(body)
    return {"left_out": min(size, MOST_BYTES + 1)}


def mended_stop(body: Body) -> dict[str, Json]:
    """A stop as it counts, whatever its body says: no stop is lost to a slip of the pen."""
    reason, wearer = body.get("reason"), body.get("wearer")
    words = reason[:LONGEST_WORDS] if isinstance(reason, str) else ""
    shown = "".join(letter if _clean(letter) else " " for letter in words)
    return {"reason": shown, "wearer": wearer if wearer in LETTERS else BOTH}


# Reading what stands in the book.


def text_in(body: Body, key: str) -> str:
    """A text; empty when there is none."""
    value = body.get(key)
    return value if isinstance(value, str) else ""


def whole_in(body: Body, key: str) -> int:
    """A whole number; -1 when there is none."""
    value = body.get(key)
    return value if isinstance(value, int) and not isinstance(value, bool) else -1


def number_in(body: Body, key: str) -> float | None:
    """A number; None when there is none."""
    value = body.get(key)
    return float(value) if _is_number(value) and isinstance(value, int | float) else None


def group_in(body: Body, key: str) -> Mapping[str, Json]:
    """A group of keys; empty when there is none."""
    value = body.get(key)
    return value if isinstance(value, Mapping) else {}


def texts_in(body: Body, key: str) -> tuple[str, ...]:
    """A list of texts; empty when there is none."""
    value = body.get(key)
    return tuple(each for each in value if isinstance(each, str)) if isinstance(value, list) else ()


def text_group_in(body: Body, key: str) -> dict[str, str]:
    """A group of texts; what is no text is left out."""
    return {name: part for name, part in group_in(body, key).items() if isinstance(part, str)}
