"""Groups of keys that people write, and what in them contradicts itself."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Self

from pydantic import BaseModel, ConfigDict, model_validator
from pydantic_core import PydanticCustomError


@dataclass(frozen=True)
class Complaint:
    """One contradiction inside a group of keys.

    Attributes:
        keys: Path from the group to the value at fault.
        read: What was read; the value's own text when empty.
        accepted: What is accepted.
        hint: What to do; may be empty.
    """

    keys: tuple[str | int, ...]
    accepted: str
    read: str = ""
    hint: str = ""


def alike(key: str, codes: Iterable[str]) -> Iterator[Complaint]:
    """Codes that differ by capital letters alone, which nobody hears.

    Args:
        key: Of the group that they are keys of.
        codes: In their order.
    """
    met: dict[str, str] = {}
    for code in codes:
        first = met.setdefault(code.lower(), code)
        if first != code:
            accepted = f"a code that differs from {first} by more than capital letters"
            yield Complaint((key, code), accepted, f'"{code}"')


class Written(BaseModel):
    """Base of everything people write: unknown keys are refused, nothing changes afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def disagreements(self) -> Iterable[Complaint]:
        """What in it contradicts itself, although every single value is acceptable."""
        return ()

    @model_validator(mode="after")
    def _agree(self) -> Self:
        complaints = tuple(self.disagreements())
        if complaints:
            raise PydanticCustomError("disagreement", "disagrees", {"complaints": complaints})
        return self
