"""The commands: parse, call, print. No rules live here."""

from __future__ import annotations

import datetime as dt
import json
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from workbook_tools import __version__
from workbook_tools.errors import WorkbookToolsError

if TYPE_CHECKING:
    from workbook_tools.contract.findings import Finding
    from workbook_tools.contract.words import Words
    from workbook_tools.field_book.issue import Issued
    from workbook_tools.folder import ProgramFolder
    from workbook_tools.returns.intake import Intake

TO_MEND, COULD_NOT = 1, 2
_Step = TypeVar("_Step")
folder_argument = click.argument("folder", type=click.Path(path_type=Path))
json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON document on stdout.")
as_of_option = click.option(
    "--as-of", type=click.DateTime(["%Y-%m-%d"]), help="Count the window as seen on this day; today if not given."
)
mail_option = click.option("--mail", is_flag=True, help="Write a mail draft a merchandiser, with the books attached.")


class Commands(click.Group):
    """The one place where an error becomes a sentence on stderr and exit status 2."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; `--traceback` lets an error through as it is."""
        try:
            return super().invoke(ctx)
        except WorkbookToolsError as slip:
            if ctx.params.get("traceback"):
                raise
            click.echo(str(slip), err=True)
            ctx.exit(COULD_NOT)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "--version", prog_name="workbook-tools")
@click.option("--traceback", is_flag=True, hidden=True)
def main(traceback: bool) -> None:
    """Field workbooks for product display programs: write them, take them back, say what stands right."""


@main.command()
@folder_argument
def new(folder: Path) -> None:
    """Make a program folder with a setup workbook to fill in.

    Example: workbook-tools new spring-tower
    """
    from workbook_tools.errors import FolderError  # noqa: PLC0415
    from workbook_tools.folder import ProgramFolder, write_bytes_whole  # noqa: PLC0415
    from workbook_tools.program.setup_book import setup_workbook  # noqa: PLC0415

    words, made = _words(), ProgramFolder(folder)
    if made.setup.exists():
        raise FolderError(words("messages.folder_exists", folder=folder))
    write_bytes_whole(made.setup, setup_workbook(words), words)
    for part in (made.images, made.issued, made.returns, made.rollup):
        part.mkdir(exist_ok=True)
    click.echo(words("messages.made_folder", folder=folder))


@main.command()
@folder_argument
@json_option
@click.pass_context
def check(ctx: click.Context, folder: Path, as_json: bool) -> None:
    """Check the setup; say what is wrong, where, and what to do.

    Example: workbook-tools check spring-tower
    """
    from workbook_tools.contract.findings import must_mend  # noqa: PLC0415
    from workbook_tools.program.load import read_setup  # noqa: PLC0415

    words = _words()
    setup = read_setup(_open(folder, words), words)
    if as_json:
        _print_json({"findings": [finding.row(words) for finding in setup.findings]})
    else:
        _print_findings(setup.findings, words)
        if setup.program:
            program = setup.program
            counts = {name: len(getattr(program, name)) for name in ("stores", "positions", "items")}
            click.echo(words("messages.check_clean", **counts))
    ctx.exit(TO_MEND if must_mend(setup.findings) else 0)


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
    with _progress(words("messages.writing_books")) as watch:
        order = Order(now=_now(), stores=stores, shared=shared, watch=lambda all_: watch(all_, len(all_)))
        issued = issue_books(opened, order, words)
    for file, kept in issued.kept:
        click.echo(words("messages.book_kept", file=file, kept=kept), err=True)
    count = len(issued.books)
    click.echo(words("messages.issued", count=count, revision=issued.revision, folder=opened.issued))
    if unchanged := count - issued.new:
        click.echo(words("messages.issued_unchanged", count=unchanged))
    if mail:
        _write_letters(opened, issued, "issue", words)


@main.command()
@folder_argument
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@json_option
@click.pass_context
def validate(ctx: click.Context, folder: Path, paths: tuple[Path, ...], as_json: bool) -> None:
    """Check returns without merging them.

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
        _print_findings(findings, words)
    ctx.exit(TO_MEND if must_mend(findings) else 0)


@main.command()
@folder_argument
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path))
@as_of_option
@json_option
def merge(folder: Path, paths: tuple[Path, ...], as_of: dt.datetime | None, as_json: bool) -> None:
    """Take in all returns (FOLDER/returns and any PATH) and write FOLDER/rollup.

    Example: workbook-tools merge spring-tower
    """
    from workbook_tools.rollup.write import write_rollup  # noqa: PLC0415

    words = _words()
    opened = _open(folder, words)
    opened.returns.mkdir(exist_ok=True)
    intake = _take_in(opened, [opened.returns, *paths], words)
    written = write_rollup(opened, intake, as_of.date() if as_of else dt.date.today())
    if as_json:
        _print_json(written.as_json(words))
        return
    if not intake.results:
        click.echo(words("messages.nothing_to_read", folder=opened.returns), err=True)
    for line in written.lines(words):
        click.echo(line)


@main.command()
@folder_argument
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path))
@click.option("--store", "stores", multiple=True, metavar="NO", help="Only this store; can be given several times.")
@mail_option
def revisit(folder: Path, paths: tuple[Path, ...], stores: tuple[str, ...], mail: bool) -> None:
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
    with _progress(words("messages.writing_books")) as watch:
        order = Order(now=_now(), watch=lambda jobs: watch(jobs, len(jobs)))
        issued = issue_revisits(opened, plan.revisits, order, words)
    for line in plan.lines(issued, opened, words):
        click.echo(line)
    if mail:
        _write_letters(opened, issued, "revisit", words)


@main.command()
@folder_argument
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path))
def correct(folder: Path, paths: tuple[Path, ...]) -> None:
    """Write back every return that is to be corrected, with all answers in it, and a mail draft for its sender.

    Example: workbook-tools correct spring-tower
    """
    from workbook_tools.field_book.corrections import Sender  # noqa: PLC0415
    from workbook_tools.rollup.send_back import corrections  # noqa: PLC0415

    words = _words()
    opened = _open(folder, words)
    opened.returns.mkdir(exist_ok=True)
    places = [opened.returns, *paths]
    intake = _take_in(opened, places, words)
    made = corrections(opened, intake, places)
    if not made:
        click.echo(words("messages.nothing_to_correct"))
        return
    drafts = Sender(opened, intake.programs, words).send_back(made)
    click.echo(words("messages.corrections", count=len(made), folder=opened.corrections))
    for line in drafts.lines(opened.corrections, words):
        click.echo(line)


@main.command()
@click.argument("folder", default="demo", type=click.Path(path_type=Path))
@click.option("--seed", default=1, show_default=True, help="Another number gives another demo.")
def demo(folder: Path, seed: int) -> None:
    """Do the whole job on an invented program, with simulated merchandisers.

    Example: workbook-tools demo
    """
    from workbook_tools.demo.run import run_demo  # noqa: PLC0415

    words = _words()
    for line in run_demo(folder, seed, words):
        click.echo(line)


def _words() -> Words:
    from workbook_tools.contract.words import words_for  # noqa: PLC0415

    return words_for("en")


def _open(folder: Path, words: Words) -> ProgramFolder:
    from workbook_tools.folder import open_folder  # noqa: PLC0415

    return open_folder(folder, words)


def _take_in(folder: ProgramFolder, paths: Sequence[Path], words: Words, *, keep: bool = True) -> Intake:
    from workbook_tools.errors import FolderError  # noqa: PLC0415
    from workbook_tools.returns.intake import take_in  # noqa: PLC0415
    from workbook_tools.returns.workers import Reading  # noqa: PLC0415

    for path in paths:
        if not path.exists():
            raise FolderError(words("messages.no_such_path", path=path))
    with _progress(words("messages.reading_returns")) as watch:
        return take_in(folder, paths, words, Reading(keep=keep, watch=watch))


def _write_letters(folder: ProgramFolder, issued: Issued, about: str, words: Words) -> None:
    from workbook_tools.field_book.letters import letters, write_letters  # noqa: PLC0415

    made = letters(folder, issued.program, issued.books, about, words)
    for line in write_letters(folder.mail, issued.program, made, words).lines(folder.mail, words):
        click.echo(line)


def _print_findings(findings: Iterable[Finding], words: Words) -> None:
    counted = {"must mend": 0, "look at": 0, "note": 0}
    for finding in findings:
        counted[finding.severity] += 1
        place = " ".join(part for part in (finding.file, finding.sheet, finding.cell) if part)
        click.echo(f"{words('severity.' + finding.severity)}: {place}: {finding.problem(words)} {finding.todo(words)}")
    if any(counted.values()):
        must, look, notes = counted.values()
        click.echo(words("messages.check_findings", must=must, look=look, notes=notes), err=True)


def _print_json(document: object) -> None:
    click.echo(json.dumps(document, ensure_ascii=False, indent=2, default=str))


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC).replace(microsecond=0)


@contextmanager
def _progress(title: str) -> Iterator[Any]:
    """A function that passes a sequence on, with a bar on stderr when that is a terminal."""
    if not sys.stderr.isatty():
        yield lambda steps, total: steps
        return
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress  # noqa: PLC0415

    with Progress(console=Console(stderr=True), transient=True) as bar:

        def watch(steps: Iterable[_Step], total: int) -> Iterator[_Step]:
            return iter(bar.track(steps, total=total, description=title))

        yield watch
