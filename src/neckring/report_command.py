"""`neckring report RUN`: a run against its plan, for a board, for a computer, for others."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from neckring.command_parts import (
    EXIT_NOT_GO,
    FILE,
    FOLDER,
    compile_first,
    load_or_exit,
    plan_ahead,
    progress,
    question_about,
    refuse,
    refuse_code,
    runner_for,
    station_option,
    tell_faults,
)

if TYPE_CHECKING:
    from neckring.live.drill import DrillReport
    from neckring.outing.findings import Plan
    from neckring.records.kept_run import KeptRun
    from neckring.records.report_course_records import SensorFact
    from neckring.records.report_records import RunReport
    from neckring.station.loading import LoadedStation

KEPT = ("{run}-kept", "{run}-rehearsed")
"""Where console and rehearse keep a run unless they are told otherwise."""


@dataclass(frozen=True)
class Wanted:
    """What is reported, and where it is written.

    Attributes:
        runs: Code of the run of wearer A, and of B when two went.
        folder: The station's.
        kept: Folder in which log book and readings lie; None for where they usually are.
        book: Address of a database for the log book; empty for a file in that folder.
        out: The page.
        pdf: In print; None for none.
        csv: Folder for tables; None for none.
        package: Folder for the data package; None for none.
        redacted: Folder for the redacted one; None for none.
        members: Drawn for the planned turn-back time; 0 for none.
        seed: Of the draw.
        workers: Threads.
    """

    runs: tuple[str, ...]
    folder: Path
    kept: Path | None
    book: str
    out: Path | None
    pdf: Path | None
    csv: Path | None
    package: Path | None
    redacted: Path | None
    members: int
    seed: int
    workers: int

    @property
    def command(self) -> str:
        """As typed, without folders: the same on every machine."""
        drawn = f" --members {self.members} --seed {self.seed}" if self.members else ""
        return f"neckring report {' '.join(self.runs)}{drawn}"

    @property
    def folders(self) -> tuple[Path, ...]:
        """That are to be made anew."""
        return tuple(f for f in (self.csv, self.package, self.redacted) if f is not None)


@click.command("report")
@click.argument("run", required=False)
@click.argument("partner", required=False)
@station_option
@click.option("--keep", "kept", type=FOLDER, default=None, help="Where log and readings lie.")
@click.option("--book", default="", help="A database for the log, as in postgresql://u@h/db.")
@click.option("--out", type=FILE, default=None, help="The page [RUN-report.html].")
@click.option("--pdf", type=FILE, default=None, help="The same in print.")
@click.option("--csv", type=FOLDER, default=None, help="Tables for other programs.")
@click.option("--package", type=FOLDER, default=None, help="Tables, log, provenance and sums.")
@click.option("--redacted", type=FOLDER, default=None, help="A package that tells nobody who.")
@click.option(
    "--members",
    type=click.IntRange(0, 10_000_000),
    default=0,
    help="Drawn for the planned turn-back time [0: not computed].",
)
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=1, help="Of the draw [1].")
@click.option(
    "--workers",
    type=click.IntRange(1, 1024),
    default=os.cpu_count() or 1,
    help="Threads, or processes of a campaign [all cores].",
)
@click.option(
    "--campaign",
    type=click.Path(path_type=Path),
    multiple=True,
    help="Many runs on one page: their folders, or a folder of folders. May be given more often.",
)
@click.option("--verify", type=FOLDER, default=None, help="Hold a package against its sums.")
def report(
    run: str | None,
    partner: str | None,
    folder: Path,
    campaign: tuple[Path, ...],
    verify: Path | None,
    **given: object,
) -> None:
    """Tell RUN against its plan: clocks, readings, steps, stops, alarms, deviations.

    With two wearers PARTNER is the run of the other one. The log book is verified from its first
    entry to its last; one that does not verify is refused with the place. With --campaign, many
    runs together; with --verify, whether a package is as it was written.
    """
    asked = [run is not None, bool(campaign), verify is not None]
    if sum(asked) != 1:
        raise click.UsageError("say what to report: RUN, or --campaign DIR, or --verify DIR")
    if verify is not None:
        tell_verified(verify)
    elif campaign:
        report_campaign(folder, campaign, given)
    else:
        assert run is not None
        runs = (run, partner) if partner else (run,)
        report_run(Wanted(runs=runs, folder=folder, **given))  # type: ignore[arg-type]


def tell_verified(folder: Path) -> None:
    """Say whether a package is as it was written; status 1 when it is not."""
    from neckring.records.data_package import verify_package

    if not folder.is_dir():
        refuse(f"--verify {folder}: there is no such folder; accepted: one that --package made")
    wrong = verify_package(folder)
    for line in wrong:
        click.echo(line, err=True)
    if wrong:
        sys.exit(EXIT_NOT_GO)
    click.echo(f"{folder}: every file is as it was written")


def report_run(wanted: Wanted) -> None:
    """Read, compute, and only then write."""
    from neckring.records.data_package import CannotPackError
    from neckring.records.kept_run import CannotReportError

    station = load_or_exit(wanted.folder)
    for code in wanted.runs:
        if code not in station.runs:
            refuse_code("run", code, station.runs)
    try:
        for folder in wanted.folders:
            refuse_folder(folder)
        made, kept = read_run(station, wanted)
        write_report(made, kept, wanted)
    except (CannotReportError, CannotPackError) as problem:
        refuse(str(problem))


def refuse_folder(folder: Path) -> None:
    """A folder that cannot be made anew is told before anything is computed."""
    from neckring.records.data_package import refuse_full

    refuse_full(folder)


def read_run(station: LoadedStation, wanted: Wanted) -> tuple[RunReport, KeptRun]:
    """Everything that a report tells, with what it was made from."""
    from neckring import __version__
    from neckring.live.run_sheet import run_sheet
    from neckring.records.campaign_reading import reaches
    from neckring.records.kept_run import open_kept
    from neckring.records.report_facts import Sources, run_report
    from neckring.records.report_records import Provenance
    from neckring.station.fault import StationFaults

    try:
        sheet = run_sheet(station, *wanted.runs)
    except StationFaults as faults:
        tell_faults(faults)
    kept = open_kept(where_kept(wanted), wanted.book, sheet)
    try:
        from_where = Provenance(
            __version__, wanted.command, kept.head, kept.parts, kept.changed, kept.no_readings
        )
        with progress(False) as tell:
            plans = planned(station, wanted, tell)
            drill = drilled(station, wanted, kept, tell)
        sensors = sensors_of(station, kept)
        sources = Sources(
            entries=kept.entries,
            sheet=kept.sheet,
            reaches=reaches(station),
            provenance=from_where,
            plans=plans,
            sensors=sensors,
            forms=kept.forms,
            drill=drill,
        )
        return told(lambda: run_report(sources)), kept
    finally:
        kept.close()


def told(make: Callable[[], RunReport]) -> RunReport:
    """A report, or words and status 2 where the log was written by a newer neckring."""
    from neckring.live.entries import BookError

    try:
        return make()
    except BookError as problem:
        refuse(str(problem))


def where_kept(wanted: Wanted) -> Path:
    """The folder asked for, or the one in which such a run usually lies."""
    if wanted.kept is not None:
        return wanted.kept
    usual = [Path(name.format(run=wanted.runs[0])) for name in KEPT]
    there = [path for path in usual if path.is_dir()]
    if len(there) > 1:
        refuse(f"--keep: there are {there[0]} and {there[1]}; say which")
    return there[0] if there else usual[0]


def planned(
    station: LoadedStation, wanted: Wanted, tell: Callable[[str], None]
) -> Mapping[str, Plan]:
    """The plan of each wearer, as today's files have it."""
    plans = {}
    for letter, code in zip("AB", wanted.runs, strict=False):
        tell(f"the plan of wearer {letter}")
        question = question_about(station, code, wanted.members, wanted.seed)
        compile_first(question)
        with runner_for(None, wanted.workers) as runner:
            plans[letter] = plan_ahead(question, runner, wanted.workers, tell)
    return plans


def drilled(
    station: LoadedStation, wanted: Wanted, kept: KeptRun, tell: Callable[[str], None]
) -> DrillReport | None:
    """How faults of a rehearsal were met, against the help clock; None for a real run."""
    from neckring.live.entries import Kind
    from neckring.live.trainer_scores import Scores
    from neckring.records.kept_run import KeptEntries

    if not kept.sheet.rehearsal:
        return None
    scenarios = {}
    if any(entry.deed.kind is Kind.FAULT_BEGUN for entry in kept.entries):
        tell("the help clock")
        scenarios = {
            letter: question_about(station, code, 1, wanted.seed).scenario
            for letter, code in zip("AB", wanted.runs, strict=False)
        }
    return Scores(KeptEntries(kept.entries), kept.sheet, scenarios).report()


def sensors_of(station: LoadedStation, kept: KeptRun) -> tuple[SensorFact, ...]:
    """Each channel; none where there are no readings.

    Raises:
        CannotReportError: There are readings, and they cannot be read.
    """
    from neckring.live.readings_file import ReadingsError
    from neckring.live.sensors.channels import wire
    from neckring.records.kept_run import CannotReportError
    from neckring.records.report_sensors import sensor_facts

    if kept.readings is None:
        return ()
    wearers = kept.sheet.wearers.values()
    wired = wire((wearer.letter, station.suits[wearer.run.suit]) for wearer in wearers)
    try:
        return sensor_facts(kept.readings, wired)
    except ReadingsError as problem:
        raise CannotReportError(str(problem)) from None


def write_report(made: RunReport, kept: KeptRun, wanted: Wanted) -> None:
    """Make everything that was asked for, then write it."""
    from neckring.records.data_package import package_files, write_file, write_folder
    from neckring.records.redaction import redacted_files
    from neckring.records.report_csv import csv_files, csv_tables
    from neckring.records.report_findings import findings, headline
    from neckring.records.report_page import render_report
    from neckring.records.report_pdf import press_report

    page = wanted.out or Path(f"{wanted.runs[0]}-report.html")
    files = {page: render_report(made).encode()}
    if wanted.pdf is not None:
        files[wanted.pdf] = press_report(made)
    folders: dict[Path, Mapping[str, bytes]] = {}
    if wanted.csv is not None:
        folders[wanted.csv] = csv_files(csv_tables(made, kept.entries))
    if wanted.package is not None:
        folders[wanted.package] = package_files(made, kept.entries)
    if wanted.redacted is not None:
        folders[wanted.redacted] = redacted_files(made, kept.entries)
    for path, content in files.items():
        write_file(path, content)
    for folder, contents in folders.items():
        write_folder(folder, contents)
    click.echo(headline(made))
    for sentence in findings(made):
        click.echo(f"  {sentence}")
    for path in (*files, *folders):
        click.echo(f"{path} written")


def report_campaign(folder: Path, named: tuple[Path, ...], given: Mapping[str, object]) -> None:
    """Many runs on one page, and as one table when asked for."""
    from neckring.records.campaign_page import campaign_table, numbers, render_campaign
    from neckring.records.campaign_reading import CampaignReader, folders_in
    from neckring.records.data_package import CannotPackError, write_file, write_folder
    from neckring.records.kept_run import CannotReportError
    from neckring.records.report_csv import csv_files

    unused = [name for name in ("pdf", "package", "redacted", "kept", "book") if given[name]]
    if unused:
        raise click.UsageError(f"--campaign goes with --out and --csv only, not with {unused[0]}")
    station = load_or_exit(folder)
    try:
        workers = given["workers"]
        assert isinstance(workers, int)
        found = CampaignReader(station).campaign(folders_in(named), workers)
        out = given["out"] or Path("campaign.html")
        assert isinstance(out, Path)
        tables = given["csv"]
        if isinstance(tables, Path):
            write_folder(tables, csv_files([campaign_table(found)]))
        write_file(out, render_campaign(found).encode())
    except (CannotReportError, CannotPackError) as problem:
        refuse(str(problem))
    for number in numbers(found):
        click.echo(f"{number.label}: {number.value}, {number.note}")
    for name, why in sorted(found.unreadable.items()):
        click.echo(f"not read: {name}: {why}", err=True)
    click.echo(f"{out} written")
    if found.unreadable:
        sys.exit(EXIT_NOT_GO)
