"""A small list of kit for tests, and records in their order."""

from __future__ import annotations

from typing import Any

from neckring.ledger.judging import refusal
from neckring.ledger.ledger_state import Ledger
from neckring.ledger.records import Act, Record
from neckring.station.kit_items import KitItems

NOW = 1_795_000_000.0
HOUR, DAY = 3600.0, 86400.0
SHEET: dict[str, Any] = {
    "parts": {
        "fan": {
            "words": "helmet fan",
            "faults": {
                "slow": {"words": "runs slowly", "severity": "grounds"},
                "noise": {"words": "rattles", "severity": "lead decides"},
            },
        },
        "garment": {"words": "garment", "dries_in": "12 h", "cleans_in": "1 h"},
        "battery": {"words": "battery", "rated_charge": "10 Ah", "least_charge": "80 %"},
        "liner": {"words": "liner", "single_use": "yes"},
    },
    "checks": {
        "flow": {
            "words": "air flow", "parts": ["fan"], "reads": "95 L/min or more",
            "valid_for": "24 h", "source": "test", "verified": "no",
        },
        "drops": {
            "words": "water at the disconnect", "parts": ["garment"], "reads": "0.3 g or less",
            "valid_for": "720 h", "severity": "lead decides", "source": "test", "verified": "no",
        },
    },
    "kits": {"KA": {"words": "kit A"}, "KB": {"words": "kit B"}, "KC": {"words": "kit C"}},
    "items": {
        "F1": {"part": "fan", "kit": "KA"},
        "F2": {"part": "fan"},
        "F3": {"part": "fan"},
        "G1": {"part": "garment", "kit": "KB"},
        "B1": {"part": "battery", "kit": "KC"},
        "L1": {"part": "liner"},
    },
    "bags": {"red": {"words": "red bag", "kit": "KA", "holds": {"pins": "12", "plugs": "4"}}},
}  # fmt: skip


def sheet(**changes: Any) -> KitItems:
    """The list, with some of its keys changed."""
    return KitItems.model_validate(SHEET | changes)


class Shelf:
    """A ledger in memory that takes what is allowed."""

    def __init__(self, items: KitItems | None = None) -> None:
        self.items = items or sheet()
        self.state = Ledger()
        self.records: list[Record] = []
        self.now = NOW

    def take(self, act: Act, ago: float = 0.0, **body: Any) -> str:
        """Take a deed; why it was refused, or nothing."""
        at = self.now - ago
        why = refusal(self.state, self.items, act, body, at, self.now)
        if not why:
            record = Record(len(self.records) + 1, at, "T1", act, body)
            self.records.append(record)
            self.state.take(record)
        return why

    def fault(self, item: str, fault: str, ago: float = 0.0, **more: Any) -> str:
        """Tell a fault."""
        part = self.items.items[item].part
        severity = self.items.parts[part].severity_of(fault)
        return self.take(
            Act.FAULT, ago, item=item, part=part, fault=fault, severity=severity, **more
        )

    def check(self, item: str, check: str, value: float, ago: float = 0.0) -> str:
        """Record a measurement [SI]."""
        rule = self.items.checks[check]
        return self.take(
            Act.CHECK,
            ago,
            item=item,
            part=self.items.items[item].part,
            check=check,
            value=value,
            text=str(value),
            passed=rule.reads.passes(value),
            severity=rule.severity,
        )
