"""A fit as one self-contained page: the outline with its clearances, settings, load, shares."""

from __future__ import annotations

from neckring import __version__
from neckring.fitting.findings import WearerFit
from neckring.outing.cautions import ALWAYS
from neckring.records import fit_words
from neckring.records.fit_picture import draw_fit
from neckring.records.page_frame import environment, style_named


def render_fit(found: WearerFit) -> str:
    """Write a fit as one HTML page that needs nothing beside itself.

    The same fit always gives the same text.

    Args:
        found: The fit.

    Returns:
        The whole HTML document.
    """
    return (
        environment()
        .get_template("fit.html.j2")
        .render(
            found=found,
            fit=fit_words,
            drawings={one.suit: draw_fit(one) for one in found.suits},
            cautions=(*fit_words.CAUTIONS, *ALWAYS),
            version=__version__,
            style=style_named(f"fit of {found.wearer}"),
        )
    )
