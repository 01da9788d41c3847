"""The commands: parse, call, print. No rules live here."""

from __future__ import annotations

import atexit
import datetime as dt
import errno
import gc
import json
import os
from collections import Counter
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from workbook_tools import __version__
from workbook_tools.errors import WorkbookToolsError
from workbook_tools.progress import progress

if TYPE_CHECKING:
    from workbook_tools.contract.findings import Finding
    from workbook_tools.contract.words import Words
    from workbook_tools.field_book.issue import Issued
    from workbook_tools.folder import ProgramFolder
    from workbook_tools.returns.address import Place
    from workbook_tools.returns.intake import Intake
    from workbook_tools.returns.workers import Spread

TO_MEND, COULD_NOT, STOPPED = 1, 2, 130
MOST_ALIKE = 12
"""Findings of one rule on one sheet that are printed; a list of thousands helps nobody at a screen."""
COLLECTING = 10_000, 1_000, 20
"""After how many new objects garbage is looked for, and how seldom among those that are not new. Nearly all that a
command makes is needed to its end: looking as often as Python does by itself takes a twentieth of the time in which ten
thousand returns are merged. At the very end it is not looked for at all: what is there goes with the process.
"""
THREADS = "2"
"""In how many threads polars reckons: with eight, a merge of ten thousand returns takes 70 MB more."""


def _place(text: str) -> Place:
    from workbook_tools.returns.address import place_of  # noqa: PLC0415

    return place_of(text)


folder_argument = click.argument("folder", type=click.Path(path_type=Path))
json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON document on stdout.")
as_of_option = click.option(
    "--as-of", type=click.DateTime(["%Y-%m-%d"]), help="Count the window as seen on this day; today if not given."
)
mail_option = click.option("--mail", is_flag=True, help="Write a mail draft a merchandiser, with the books attached.")


class Commands(click.Group):
    """The one place where an error becomes a sentence on stderr and exit status 2, and a stop by Ctrl-C one and 130.

    What nobody foresaw becomes one too, what native code of a library panics with included, which is no Exception.
    """

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; `--traceback` lets an error through as it is."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.Abort, click.exceptions.Exit, SystemExit):
            raise
        except WorkbookToolsError as slip:
            if ctx.params.get("traceback"):
                raise
            click.echo(str(slip), err=True)
            ctx.exit(COULD_NOT)
        except KeyboardInterrupt:
            click.echo(f"\n{_words()('messages.stopped')}", err=True)
            ctx.exit(STOPPED)
        except BaseException as slip:
            # That nobody reads the output any more, click knows how to end on.
            if ctx.params.get("traceback") or (isinstance(slip, OSError) and slip.errno == errno.EPIPE):
                raise
            from workbook_tools.unforeseen import unforeseen  # noqa: PLC0415

            click.echo(unforeseen(slip, _words()), err=True)
            ctx.exit(COULD_NOT)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "--version", prog_name="workbook-tools")
@click.option("--traceback", is_flag=True, hidden=True)
def main(traceback: bool) -> None:
    """Field workbooks for product display programs: write them, take them back, say what stands right."""
    gc.set_threshold(*COLLECTING)
    os.environ.setdefault("POLARS_MAX_THREADS", THREADS)
    atexit.register(gc.freeze)


@main.command()
@folder_argument
@click.option("--from", "old", type=click.Path(path_type=Path), help="Take stores, people, parts and steps from it.")
def new(folder: Path, old: Path | None) -> None:
    """Make a program folder with a setup workbook to fill in.

    Example: workbook-tools new spring-tower
    """
    from workbook_tools.errors import FolderError  # noqa: PLC0415
    from workbook_tools.folder import ProgramFolder, write_bytes_whole  # noqa: PLC0415
    from workbook_tools.program.setup_book import setup_workbook  # noqa: PLC0415

    words, made = _words(), ProgramFolder(folder)
    if made.setup.exists():
        raise FolderError(words("messages.folder_exists", folder=folder))
    taken = None
    if old:
        from workbook_tools.program.take_over import take_over  # noqa: PLC0415

        source = _open(old, words)
        taken = take_over(source, words)
    write_bytes_whole(made.setup, taken.book if taken else setup_workbook(words), words)
    for part in (made.images, made.issued, made.returns, made.rollup):
        part.mkdir(exist_ok=True)
    if taken:
        taken.copy_pictures(source, made, words)
        click.echo(words("messages.taken_over", old=old, **taken.counts))
    click.echo(words("messages.made_folder", folder=folder))


@main.command()
@folder_argument
@json_option
@as_of_option
@click.option("--mark", is_flag=True, help="Write program-checked.xlsx, a copy with every finding marked in its cell.")
@click.option("--draw", is_flag=True, help="Write faces.xlsx: every face as the setup draws it so far.")
@click.option("--orders", is_flag=True, help="Write orders.xlsx: goods, labels, tags and parts with spares.")
@click.option(
    "--loss", type=click.FloatRange(0, 50), default=2.0, show_default=True, help="Spares for so many percent."
)
@click.option("--assign", is_flag=True, help="Write assign.xlsx: a proposal who could take over which stores.")
@click.option("--since", type=click.IntRange(1), metavar="REVISION", help="Say what changed since it was issued.")
@click.pass_context
def check(
    ctx: click.Context, /, folder: Path, as_json: bool, as_of: dt.datetime | None, loss: float, **asked: Any
) -> None:
    """Check the setup; say what is wrong, where, and what to do.

    Example: workbook-tools check spring-tower
    """
    from workbook_tools.contract.findings import must_mend  # noqa: PLC0415
    from workbook_tools.program.check import Wanted, check_program  # noqa: PLC0415

    words = _words()
    today = as_of.date() if as_of else dt.date.today()
    checked = check_program(_open(folder, words), Wanted(today=today, loss=loss / 100, **asked), words)
    if as_json:
        _print_json(checked.as_json(words))
    else:
        _print_findings(checked.setup.findings, words)
        for line in checked.lines(words):
            click.echo(line)
    ctx.exit(TO_MEND if must_mend(checked.setup.findings) else 0)


@main.command()
@folder_argument
@click.option("--store", "stores", multiple=True, metavar="NO", help="Only this store; can be given several times.")
@click.option("--shared", is_flag=True, help="One book for the whole program; the store is picked in it.")
@mail_option
def issue(folder: Path, stores: tuple[str, ...], shared: bool, mail: bool) -> None:
    """Write one protected field book per store.

    Example: workbook-tools issue spring-tower --store 00417
    """
    from workbook_tools.field_book.issue import Order  # noqa: PLC0415
    from workbook_tools.field_book.issue import issue as issue_books  # noqa: PLC0415

    words = _words()
    opened = _open(folder, words)
    with progress(words("messages.writing_books")) as watch:
        order = Order(now=_now(), stores=stores, shared=shared, watch=lambda all_: watch(all_, len(all_)))
        issued = issue_books(opened, order, words)
    for line in issued.kept_lines(words):
        click.echo(line, err=True)
    for line in issued.lines(opened, words):
        click.echo(line)
    if mail:
        _write_letters(opened, issued, "issue", words)


@main.command()
@folder_argument
@click.argument("paths", nargs=-1, required=True, type=_place)
@json_option
@click.pass_context
def validate(ctx: click.Context, folder: Path, paths: tuple[Place, ...], as_json: bool) -> None:
    """Check returns without merging them. A PATH may be an address such as s3://bucket/returns.

    Example: workbook-tools validate spring-tower ~/Downloads/return.xlsx
    """
    from workbook_tools.contract.findings import must_mend  # noqa: PLC0415

    words = _words()
    intake = _take_in(_open(folder, words), paths, words, keep=False)
    findings = list(intake.findings)
    if as_json:
        files = [result.row(words) for result in intake.results]
        _print_json({"files": files, "findings": [finding.row(words) for finding in findings]})
    else:
        for result in intake.results:
            row = result.row(words)
            reason = f" · {row['reason']}" if row["reason"] else ""
            click.echo(f"{row['file']}: {words('outcomes.' + result.outcome)}{reason}")
        _print_findings(findings, words, in_full=("must mend", "look at"))
    ctx.exit(TO_MEND if must_mend(findings) else 0)


@main.command()
@folder_argument
@click.argument("paths", nargs=-1, type=_place)
@as_of_option
@click.option("--scheduler", metavar="ADDRESS", help="Read on the Dask cluster whose scheduler is there.")
@json_option
def merge(
    folder: Path, paths: tuple[Place, ...], as_of: dt.datetime | None, scheduler: str | None, as_json: bool
) -> None:
    """Take in all returns (FOLDER/returns and any PATH) and write FOLDER/rollup.

    A PATH that is somebody's copy of the roll-up gives the notes in it. Returns may lie at an address too, such as
    s3://bucket/returns (pip install 'workbook-tools[cluster]', and the package for that kind of address).

    Example: workbook-tools merge spring-tower
    """
    from workbook_tools.rollup.notes_read import is_rollup  # noqa: PLC0415
    from workbook_tools.rollup.overwrite import refuse_to_overwrite  # noqa: PLC0415

    words = _words()
    opened = _open(folder, words)
    refuse_to_overwrite(opened, words)
    opened.returns.mkdir(exist_ok=True)
    copies = [path for path in paths if isinstance(path, Path) and is_rollup(path)]
    intake = _take_in(opened, [opened.returns, *(at for at in paths if at not in copies)], words, scheduler=scheduler)
    # What writes takes as much memory as two processes that read, which have ended now.
    from workbook_tools.rollup.write import write_rollup  # noqa: PLC0415

    written = write_rollup(opened, intake, as_of.date() if as_of else dt.date.today(), copies)
    if as_json:
        _print_json({**written.as_json(words), "read": intake.fresh, "photos": intake.photos})
        return
    if not intake.results:
        click.echo(words("messages.nothing_to_read", folder=opened.returns), err=True)
    for line in written.lines(words):
        click.echo(line)
    if intake.photos:
        click.echo(words("messages.photos_came", count=intake.photos))


@main.command()
@folder_argument
@click.argument("paths", nargs=-1, type=_place)
@click.option("--store", "stores", multiple=True, metavar="NO", help="Only this store; can be given several times.")
@mail_option
def revisit(folder: Path, paths: tuple[Place, ...], stores: tuple[str, ...], mail: bool) -> None:
    """Write field books for the stores with open flags, holding only what is open.

    Example: workbook-tools revisit spring-tower --mail
    """
    from workbook_tools.field_book.issue import Order  # noqa: PLC0415
    from workbook_tools.field_book.revisit import issue_revisits  # noqa: PLC0415
    from workbook_tools.rollup.revisits import open_in  # noqa: PLC0415

    words = _words()
    opened = _open(folder, words)
    opened.returns.mkdir(exist_ok=True)
    plan = open_in(opened, _take_in(opened, [opened.returns, *paths], words), stores, words)
    with progress(words("messages.writing_books")) as watch:
        order = Order(now=_now(), watch=lambda jobs: watch(jobs, len(jobs)))
        issued = issue_revisits(opened, plan.revisits, order, words)
    for line in issued.kept_lines(words):
        click.echo(line, err=True)
    for line in plan.lines(issued, opened, words):
        click.echo(line)
    if mail:
        _write_letters(opened, issued, "revisit", words, to_all=not stores)


@main.command()
@folder_argument
@click.argument("paths", nargs=-1, type=_place)
def correct(folder: Path, paths: tuple[Place, ...]) -> None:
    """Write back every return that is to be corrected, with all answers in it, and a mail draft for its sender.

    Example: workbook-tools correct spring-tower
    """
    from workbook_tools.field_book.corrections import Sender  # noqa: PLC0415
    from workbook_tools.rollup.send_back import corrections, right_by_now  # noqa: PLC0415

    words = _words()
    opened = _open(folder, words)
    opened.returns.mkdir(exist_ok=True)
    places = [opened.returns, *paths]
    intake = _take_in(opened, places, words)
    sender = Sender(opened, intake.programs, words)
    if gone := sender.take_away(right_by_now(intake)):
        click.echo(words("messages.corrections_gone", count=gone, folder=opened.corrections))
    made = corrections(opened, intake, places)
    if not made:
        click.echo(words("messages.nothing_to_correct"))
        return
    with progress(words("messages.writing_books")) as watch:
        drafts = sender.send_back(made, lambda books: watch(books, len(books)))
    click.echo(words("messages.corrections", count=len(made), folder=opened.corrections))
    for line in drafts.lines(opened.corrections, words):
        click.echo(line)


@main.command()
@click.argument("folder", default="demo", type=click.Path(path_type=Path))
@click.option("--seed", default=1, show_default=True, help="Another number gives another demo.")
@click.option("--to-the-end", is_flag=True, help="Go on with corrections and second visits until all stores are done.")
def demo(folder: Path, seed: int, to_the_end: bool) -> None:
    """Do the whole job on an invented program, with simulated merchandisers.

    Example: workbook-tools demo
    """
    from workbook_tools.demo.run import run_demo  # noqa: PLC0415

    words = _words()
    for line in run_demo(folder, seed, words, to_the_end=to_the_end):
        click.echo(line)


def _words() -> Words:
    from workbook_tools.contract.words import words_for  # noqa: PLC0415

    return words_for("en")


def _open(folder: Path, words: Words) -> ProgramFolder:
    from workbook_tools.folder import open_folder  # noqa: PLC0415

    return open_folder(folder, words)


def _take_in(
    folder: ProgramFolder, paths: Sequence[Place], words: Words, *, keep: bool = True, scheduler: str | None = None
) -> Intake:
    from workbook_tools.returns.address import must_be_there  # noqa: PLC0415
    from workbook_tools.returns.intake import take_in  # noqa: PLC0415
    from workbook_tools.returns.workers import Reading, on_this_machine  # noqa: PLC0415

    must_be_there(paths, words)
    spread = _on_cluster(scheduler, words) if scheduler else on_this_machine
    with progress(words("messages.reading_returns")) as watch:
        return take_in(folder, paths, words, Reading(spread, keep, watch))


def _on_cluster(address: str, words: Words) -> Spread:
    from workbook_tools.errors import ClusterError  # noqa: PLC0415

    try:
        from workbook_tools.returns.cluster import on_cluster  # noqa: PLC0415
    except ImportError:
        raise ClusterError(words("messages.no_dask")) from None
    return on_cluster(address, words)


def _write_letters(folder: ProgramFolder, issued: Issued, about: str, words: Words, *, to_all: bool = False) -> None:
    """Write the letters; those `to_all` who have to be sent one leave no earlier draft to anybody else."""
    from workbook_tools.field_book.letters import letters, take_back, write_letters  # noqa: PLC0415

    made = letters(folder, issued.program, issued.books, about, words)
    for line in write_letters(folder.mail, issued.program, made, words).lines(folder.mail, words):
        click.echo(line)
    if to_all and (gone := take_back(folder.mail, issued.program, about, made, words)):
        click.echo(words("messages.drafts_gone", count=gone, folder=folder.mail))


def _print_findings(findings: Sequence[Finding], words: Words, in_full: Collection[str] = ()) -> None:
    """Print a line a finding; of more than MOST_ALIKE only how many there are, but for severities told `in_full`."""
    counted = Counter(finding.severity for finding in findings)
    alike = Counter((finding.rule, finding.sheet) for finding in findings)
    printed: Counter[tuple[str, str]] = Counter()
    for finding in findings:
        kind = (finding.rule, finding.sheet)
        printed[kind] += 1
        if printed[kind] > MOST_ALIKE and finding.severity not in in_full:
            continue
        place = " ".join(part for part in (finding.file, finding.sheet, finding.cell) if part)
        click.echo(f"{words('severity.' + finding.severity)}: {place}: {finding.problem(words)} {finding.todo(words)}")
        if printed[kind] == MOST_ALIKE < alike[kind] and finding.severity not in in_full:
            click.echo(words("check.more_alike", count=alike[kind] - MOST_ALIKE))
    if findings:
        must, look, notes = (counted[severity] for severity in ("must mend", "look at", "note"))
        click.echo(words("messages.check_findings", must=must, look=look, notes=notes), err=True)


def _print_json(document: object) -> None:
    click.echo(json.dumps(document, ensure_ascii=False, indent=2, default=str))


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC).replace(microsecond=0)
