"""Many runs on one page, and as a table for other programs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from neckring import __version__
from neckring.records.campaign import Campaign, RunSummary
from neckring.records.page_frame import environment, style_named
from neckring.records.report_csv import LOG, Cell, CsvColumn, CsvTable
from neckring.records.report_page import Number
from neckring.records.report_table import Column, Table, table
from neckring.records.report_words import DASH, RANKS, count, lasting, share

MOST_RUNS = 200
"""So many runs stand on the page, the last ones; all of them stand in the CSV file."""


def render_campaign(found: Campaign) -> str:
    """Write a campaign as one HTML page that needs nothing beside itself.

    Args:
        found: Its runs.
    """
    return (
        environment()
        .get_template("report_campaign.html.j2")
        .render(
            campaign=found,
            numbers=numbers(found),
            tables=tables(found),
            version=__version__,
            style=style_named(f"{found.station}, {count(len(found.runs), 'run')}"),
        )
    )


def numbers(found: Campaign) -> list[Number]:
    """The campaign in figures."""
    rehearsed = sum(run.rehearsal for run in found.runs)
    open_ended = sum(not run.closed for run in found.runs)
    stopped = sum(bool(run.stops) for run in found.runs)
    stops = sum(found.merged("stops").values())
    calls, missed = found.total("calls"), found.total("missed")
    suit = sum(one.suit for run in found.runs for one in run.exposures)
    return [
        Number("runs", str(len(found.runs)), f"{rehearsed} of them rehearsals with faults"),
        Number("not closed", str(open_ended), "their logs end without it", bool(open_ended)),
        Number("runs with a stop", str(stopped), f"{count(stops, 'stop')} in all", bool(stopped)),
        Number("time in suits", f"{suit / 3600:.1f}\u00a0h", "all wearers together"),
        Number("alarms to act at once", str(found.alarms(3)), _unacknowledged(found)),
        Number("calls missed", str(missed), f"{share(missed, missed + calls)} of all"),
        Number("symptoms told", str(found.total("symptoms")), "by wearers"),
        Number("otherwise than written", str(sum(found.merged("deviations").values())), "steps"),
        Number("logs not read", str(len(found.unreadable)), "see below", bool(found.unreadable)),
    ]


def _unacknowledged(found: Campaign) -> str:
    waits = [run.longest_wait for run in found.runs if run.longest_wait is not None]
    longest = f", longest after {lasting(max(waits))}" if waits else ""
    return f"{found.total('unacknowledged')} never acknowledged{longest}"


def tables(found: Campaign) -> tuple[Table, ...]:
    """Everything that is shown."""
    return (
        _unreadable(found),
        _counted(found, "stops", "reason", "Stops by reason, as people gave it.", "No stop."),
        _exposures(found),
        _ranks(found),
        _counted(found, "deviations", "what", "Otherwise than written.", "Nothing."),
        _counted(found, "cards", "card", "Emergency cards opened.", "No card was opened."),
        _counted(found, "faults", "fault", "Faults of rehearsals.", "No fault was put in."),
        _runs(found),
    )


def _unreadable(found: Campaign) -> Table:
    rows = ((True, pair) for pair in sorted(found.unreadable.items()))
    columns = (Column("folder"), Column("why", wide=True))
    return table("Logs that are in no figure of this page.", columns, rows, "All logs were read.")


def _counted(found: Campaign, key: str, name: str, says: str, nothing: str) -> Table:
    columns = (Column(name, wide=True), Column("times", figure=True), Column("runs", figure=True))
    rows = (
        (
            False,
            (
                words,
                str(times),
                str(sum(getattr(run, key).get(words, 0) > 0 for run in found.runs)),
            ),
        )
        for words, times in sorted(found.merged(key).items(), key=lambda one: (-one[1], one[0]))
        if times
    )
    return table(says, columns, rows, nothing)


def _exposures(found: Campaign) -> Table:
    columns = (
        Column("run"),
        Column("wearer"),
        Column("in the suit", figure=True),
        Column("face closed in", figure=True),
        Column("on the pack's air", figure=True),
        Column("away", figure=True),
    )
    rows = (
        (
            False,
            (
                code,
                letter,
                *(lasting(each) for each in (one.suit, one.closed, one.pack, one.away)),
            ),
        )
        for (code, letter), one in sorted(found.exposures().items())
    )
    return table("Exposures, all runs together.", columns, rows, "Nobody wore a suit.")


def _ranks(found: Campaign) -> Table:
    columns = (Column("rank"), Column("alarms", figure=True), Column("for each run", figure=True))
    runs = len(found.runs) or 1
    rows = (
        (False, (words, str(found.alarms(rank)), f"{found.alarms(rank) / runs:.1f}"))
        for rank, words in sorted(RANKS.items(), reverse=True)
    )
    return table("Alarms.", columns, rows, "No alarm.")


def _runs(found: Campaign) -> Table:
    columns = (
        Column("folder"),
        Column("runs"),
        Column("date"),
        Column("length", figure=True),
        Column("closed"),
        Column("stops", figure=True),
        Column("at-once alarms", figure=True),
        Column("missed calls", figure=True),
        Column("symptoms", figure=True),
        Column("deviations", figure=True),
    )
    shown = found.runs[-MOST_RUNS:]
    more = f" The last {MOST_RUNS} of {len(found.runs)}." if len(found.runs) > MOST_RUNS else ""
    rows = ((bool(run.stops) or not run.closed, _run_row(run)) for run in shown)
    return table(f"Runs in order of time.{more}", columns, rows, "There is no run.")


def _run_row(run: RunSummary) -> tuple[str, ...]:
    return (
        run.name,
        " with ".join(run.runs) or DASH,
        f"{run.opened:%Y-%m-%d}" if run.opened else DASH,
        lasting(run.length),
        "yes" if run.closed else "no",
        str(sum(run.stops.values())),
        str(run.alarms.get(3, 0)),
        str(run.missed),
        str(run.symptoms),
        str(sum(run.deviations.values())),
    )


CAMPAIGN = (
    CsvColumn("folder", "", "In which the run is kept.", "file system"),
    CsvColumn("runs", "", "Codes, A's first.", LOG),
    CsvColumn("opened", "", "Local time, ISO 8601.", LOG),
    CsvColumn("closed", "", "Whether it was.", LOG),
    CsvColumn("length", "s", "From the first entry to the last.", LOG),
    CsvColumn("suit", "s", "In the suit, all wearers.", LOG),
    CsvColumn("face_closed", "s", "With the face closed in, all wearers.", LOG),
    CsvColumn("away", "s", "Away, all wearers.", LOG),
    CsvColumn("stops", "", "How many.", LOG),
    CsvColumn("holds", "", "How many.", LOG),
    CsvColumn("turn_backs", "", "How many were called.", LOG),
    CsvColumn("alarms_at_once", "", "How many.", LOG),
    CsvColumn("alarms", "", "How many of all ranks.", LOG),
    CsvColumn("unacknowledged", "", "Alarms to act at once that nobody acknowledged.", LOG),
    CsvColumn("left_out", "", "Steps.", LOG),
    CsvColumn("moved", "", "Steps.", LOG),
    CsvColumn("accepted", "", "Accepted all the same.", LOG),
    CsvColumn("failed_steps", "", "How many.", LOG),
    CsvColumn("refused", "", "Deeds.", LOG),
    CsvColumn("calls", "", "Answered.", LOG),
    CsvColumn("missed", "", "Calls.", LOG),
    CsvColumn("symptoms", "", "How many.", LOG),
    CsvColumn("cards", "", "Opened.", LOG),
    CsvColumn("faults", "", "Of a rehearsal.", LOG),
    CsvColumn("restarts", "", "Of the console.", LOG),
    CsvColumn("entries", "", "In the log book.", LOG),
)


def campaign_table(found: Campaign) -> CsvTable:
    """One line for each run."""
    return CsvTable("campaign.csv", "One run.", CAMPAIGN, lambda: _lines(found.runs))


def _lines(runs: Sequence[RunSummary]) -> Iterator[Sequence[Cell]]:
    for run in runs:
        yield (
            run.name,
            " ".join(run.runs),
            run.opened.isoformat() if run.opened else "",
            run.closed,
            run.length,
            sum(one.suit for one in run.exposures),
            sum(one.closed for one in run.exposures),
            sum(one.away for one in run.exposures),
            sum(run.stops.values()),
            run.holds,
            run.turn_backs,
            run.alarms.get(3, 0),
            sum(run.alarms.values()),
            run.unacknowledged,
            run.deviations["left out"],
            run.deviations["moved"],
            run.deviations["accepted all the same"],
            run.failed_steps,
            run.refused,
            run.calls,
            run.missed,
            run.symptoms,
            sum(run.cards.values()),
            sum(run.faults.values()),
            run.restarts,
            run.entries,
        )
