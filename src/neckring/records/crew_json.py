"""Who may do what on a day, as JSON."""

from __future__ import annotations

import datetime
import json

from neckring.crew.published_gates import PUBLISHED
from neckring.crew.sign_offs import matrix, who_may
from neckring.station.people import PeopleSheet


def crew_as_json_text(sheet: PeopleSheet, day: datetime.date) -> str:
    """Roles, sign-offs and gates of a day.

    Args:
        sheet: The people.
        day: The day.
    """
    gates = sheet.gates
    signed = {"entry": gates.entry, "release": gates.release} if gates else {}
    told = {
        "day": day.isoformat(),
        "roles": {
            role: [
                {"person": one.person, "may": one.may, "reasons": one.reasons, "soon": one.soon}
                for one in who_may(sheet, role, day)
            ]
            for role in sheet.roles
        },
        "sign_offs": {
            person: {
                skill: {
                    "how": has.how,
                    "on": has.on.isoformat() if has.on else None,
                    "lapses_on": has.lapses_on.isoformat() if has.lapses_on else None,
                }
                for skill, has in skills.items()
            }
            for person, skills in matrix(sheet, day).items()
        },
        "signed_gates": {
            when: [rule.words for rule in gate.rules] if gate else None
            for when, gate in signed.items()
        },
        "published_gates": [
            {
                "code": one.code,
                "when": one.when,
                "figures": [vars(figure) for figure in one.figures],
                "source": one.source,
                "seen": one.seen,
                "applied": False,
            }
            for one in PUBLISHED
        ],
    }
    return json.dumps(told, indent=2, ensure_ascii=False)
