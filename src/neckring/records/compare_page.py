"""Several plans on one self-contained page: one table, one picture."""

from __future__ import annotations

from collections.abc import Sequence

from neckring import __version__
from neckring.outing.findings import Plan
from neckring.records.compare_plot import draw_worst_slack
from neckring.records.comparison import cautions_of, compared
from neckring.records.page_frame import environment, style_named


def render_comparison(plans: Sequence[tuple[str, Plan]]) -> str:
    """Write several plans beside each other as one HTML page that needs nothing beside itself.

    The same plans always give the same text.

    Args:
        plans: Name and plan, in the order of the columns; at least one.

    Returns:
        The whole HTML document.
    """
    names = [name for name, _ in plans]
    return (
        environment()
        .get_template("compare.html.j2")
        .render(
            names=names,
            plans=plans,
            rows=compared(plans),
            drawing=draw_worst_slack(plans),
            without=[name for name, plan in plans if plan.outlook is None],
            cautions=cautions_of(plans),
            invented=any(plan.invented for _, plan in plans),
            stations=list(dict.fromkeys(plan.station for _, plan in plans)),
            version=__version__,
            style=style_named("comparison of " + ", ".join(names)),
        )
    )
