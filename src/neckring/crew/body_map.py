"""Our own map of the body: regions with codes of our own, front and back, and how to draw them.

Left and right are the wearer's own. The method of marking a figure is old and free; this figure and
its regions are ours.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

Side = Literal["front", "back"]
WIDTH, HEIGHT = 200, 430
"""Of one figure, in units of the drawing."""


@dataclass(frozen=True)
class Region:
    """A place on the body.

    Attributes:
        code: Ours.
        words: What it is called.
        side: On which figure.
        corners: Of its outline, in units of the drawing.
    """

    code: str
    words: str
    side: Side
    corners: tuple[tuple[float, float], ...]

    @property
    def middle(self) -> tuple[float, float]:
        """Middle of its corners, where its number stands."""
        count = len(self.corners)
        return sum(x for x, _ in self.corners) / count, sum(y for _, y in self.corners) / count


def _box(left: float, top: float, right: float, bottom: float) -> tuple[tuple[float, float], ...]:
    return (left, top), (right, top), (right, bottom), (left, bottom)


# What stands once in the middle: code, words, outline.
_MIDDLE: tuple[tuple[Side, str, str, tuple[tuple[float, float], ...]], ...] = (
    ("front", "forehead", "forehead and crown", ((84, 6), (116, 6), (122, 24), (78, 24))),
    ("front", "face", "face and chin", ((78, 24), (122, 24), (114, 54), (86, 54))),
    ("front", "throat", "throat", _box(88, 54, 112, 68)),
    ("front", "breastbone", "breastbone", _box(90, 84, 110, 138)),
    ("front", "belly", "belly", _box(72, 138, 128, 182)),
    ("front", "groin", "groin", ((84, 200), (116, 200), (104, 226), (96, 226))),
    ("back", "back_of_head", "back of the head", ((84, 6), (116, 6), (120, 50), (80, 50))),
    ("back", "nape", "nape", _box(86, 50, 114, 70)),
    ("back", "spine", "spine between the shoulder blades", _box(92, 76, 108, 138)),
    ("back", "small_of_back", "small of the back", _box(74, 138, 126, 178)),
)
# What stands on both sides, drawn on the right half of the drawing.
_PAIRED: tuple[tuple[Side, str, str, tuple[tuple[float, float], ...]], ...] = (
    ("front", "collar_bone", "collar bone", ((112, 70), (140, 76), (140, 84), (110, 84))),
    ("front", "shoulder", "top of the shoulder", ((140, 76), (158, 84), (154, 108), (140, 100))),
    ("front", "breast", "breast and ribs", ((110, 84), (140, 84), (136, 138), (110, 138))),
    ("front", "hip_bone", "hip bone", ((112, 182), (130, 182), (134, 206), (116, 200))),
    ("front", "upper_arm", "upper arm", ((142, 106), (158, 108), (164, 146), (150, 146))),
    ("front", "fore_arm", "forearm", ((150, 152), (166, 152), (172, 192), (160, 194))),
    ("front", "wrist", "wrist", ((160, 194), (172, 192), (174, 206), (162, 208))),
    ("front", "hand", "hand and fingers", ((162, 208), (176, 206), (180, 244), (164, 244))),
    ("front", "thigh", "thigh", ((104, 228), (134, 208), (130, 288), (106, 288))),
    ("front", "knee", "knee", _box(106, 288, 128, 314)),
    ("front", "shin", "shin", ((106, 314), (128, 314), (122, 384), (108, 384))),
    ("front", "instep", "instep and toes", ((106, 390), (122, 390), (130, 420), (106, 420))),
    (
        "back",
        "neck_muscle",
        "between neck and shoulder",
        ((110, 68), (142, 78), (140, 88), (108, 84)),
    ),
    (
        "back",
        "back_of_arm",
        "back of the upper arm",
        ((154, 100), (165, 104), (167, 138), (153, 138)),
    ),
    (
        "back",
        "back_of_forearm",
        "back of the forearm",
        ((152, 162), (168, 162), (173, 206), (161, 208)),
    ),
    ("back", "shoulder_blade", "shoulder blade", ((108, 88), (140, 88), (136, 138), (108, 138))),
    ("back", "armpit", "armpit", ((142, 96), (154, 100), (152, 120), (140, 122))),
    ("back", "elbow", "elbow", ((150, 140), (166, 140), (168, 160), (152, 160))),
    ("back", "buttock", "buttock", ((102, 180), (132, 180), (132, 224), (102, 224))),
    ("back", "hamstring", "back of the thigh", ((104, 228), (132, 228), (128, 290), (106, 290))),
    ("back", "calf", "calf", ((106, 304), (128, 304), (122, 384), (108, 384))),
    ("back", "heel", "heel and sole", ((106, 388), (122, 388), (124, 420), (106, 420))),
)


def _regions() -> Iterator[Region]:
    for side, code, words, corners in _MIDDLE:
        yield Region(code, words, side, corners)
    for side, code, words, corners in _PAIRED:
        mirrored = tuple((WIDTH - x, y) for x, y in corners)
        # Seen from the front the wearer's left is on the right of the drawing; not from behind.
        left, right = (corners, mirrored) if side == "front" else (mirrored, corners)
        yield Region(f"left_{code}", f"left {words}", side, left)
        yield Region(f"right_{code}", f"right {words}", side, right)


REGIONS: dict[str, Region] = {region.code: region for region in _regions()}
"""Code to region."""
