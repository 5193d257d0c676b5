"""Photograph the head of a plan's page and one of its pictures, for README.md.

Usage: draw_picture.py PAGE.html PICTURE.png
"""

from __future__ import annotations

import io
import os
import sys
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

BROWSER = os.environ.get("NECKRING_BROWSER", "/usr/bin/chromium")
WIDTH = 1040
SHARPNESS = 1.5
COLOURS = 64
# Parts of the page, top to bottom: from the first element's top to the second one's bottom.
PARTS = ((".kind", ".numbers"), ("#picture-slack-1",) * 2)
GAP = 18


def photograph(tab: Page, first: str, last: str) -> Image.Image:
    """One part of the page as pixels."""
    boxes = [tab.locator(name).first.bounding_box() for name in (first, last)]
    top, bottom = boxes[0], boxes[1]
    if top is None or bottom is None:
        raise SystemExit(f"the page has no visible {first} or {last}")
    clip = {
        "x": 0.0,
        "y": top["y"] - GAP / 2,
        "width": float(WIDTH),
        "height": bottom["y"] + bottom["height"] - top["y"] + GAP,
    }
    taken = tab.screenshot(clip=clip, full_page=True)  # type: ignore[arg-type]
    return Image.open(io.BytesIO(taken)).convert("RGB")


def stacked(parts: list[Image.Image]) -> Image.Image:
    """Parts under one another, in few colours so that the file stays small."""
    sheet = Image.new("RGB", (parts[0].width, sum(part.height for part in parts)), "white")
    y = 0
    for part in parts:
        sheet.paste(part, (0, y))
        y += part.height
    return sheet.quantize(COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)


def main() -> None:
    """Photograph the parts and write the picture."""
    page, picture = (Path(name) for name in sys.argv[1:])
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=BROWSER, args=["--no-sandbox", "--disable-gpu"]
        )
        tab = browser.new_page(
            viewport={"width": WIDTH, "height": 900}, device_scale_factor=SHARPNESS
        )
        tab.goto(page.resolve().as_uri())
        parts = [photograph(tab, first, last) for first, last in PARTS]
        browser.close()
    stacked(parts).save(picture, optimize=True)
    print(f"{picture}: {picture.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
