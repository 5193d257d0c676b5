"""An estimate as it stands in the log book, read back; one that cannot be read is none."""

from __future__ import annotations

import math

from neckring.live.bodies import group_in, number_in, text_group_in, text_in, texts_in
from neckring.live.entries import Body
from neckring.live.estimated import Band, Estimated, LiveSlack, Suspicion


def estimated_in(body: Body, wearer: str, run_time: float) -> Estimated | None:
    """Read an estimate.

    Args:
        body: Of the entry: members named as in `Estimated`, what has no end written as null.
        wearer: A or B.
        run_time: Of the entry [s].

    Returns:
        The estimate; None when what binds is not in it.
    """
    binding = text_in(body, "binding")
    if not binding:
        return None
    quantities = {
        name: _band(group_in(body, "quantities"), name) for name in group_in(body, "quantities")
    }
    failures, suspicions = body.get("failures"), body.get("suspicions")
    return Estimated(
        wearer,
        run_time,
        quantities,
        tuple(_slack(each) for each in failures if isinstance(each, dict))
        if isinstance(failures, list)
        else (),
        _band(body, "turn_back") if group_in(body, "turn_back") else None,
        binding,
        tuple(_suspicion(each) for each in suspicions if isinstance(each, dict))
        if isinstance(suspicions, list)
        else (),
        texts_in(body, "stands_on"),
        text_group_in(body, "left_out"),
        number_in(body, "effective") or 0.0,
    )


def _band(body: Body, name: str) -> Band:
    group = group_in(body, name)
    low, middle, high = (number_in(group, key) for key in ("low", "middle", "high"))
    return Band(*(math.inf if value is None else value for value in (low, middle, high)))


def _slack(body: Body) -> LiveSlack:
    return LiveSlack(
        text_in(body, "code"),
        text_in(body, "words"),
        _band(body, "harm"),
        _band(body, "help"),
        _band(body, "slack"),
        number_in(body, "reserve") or 0.0,
        text_in(body, "limit"),
        text_in(body, "relief"),
    )


def _suspicion(body: Body) -> Suspicion:
    return Suspicion(
        text_in(body, "code"),
        text_in(body, "words"),
        number_in(body, "chance") or 0.0,
        texts_in(body, "stands_on"),
        text_in(body, "first_action"),
    )
