"""The commands as the office types them: exit statuses, one clear sentence for every mishap, nothing lost."""

from __future__ import annotations

import io
import json
import shutil
from collections import Counter
from email.message import EmailMessage
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from tests.rollup.sheet_edits import NotesSheet
from tests.small_program import ALL_AS_PLANNED, CONTENT, GOOD_VISIT, WORDS, fill_in
from workbook_tools.cli import MOST_ALIKE, main
from workbook_tools.program.setup_book import setup_workbook

DONE, TO_MEND, COULD_NOT = 0, 1, 2


def run(*arguments: object) -> Result:
    """Run a command as typed."""
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert "Traceback" not in result.output
    return result


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A program folder with the small program in it, ready to issue."""
    root = tmp_path / "small"
    assert run("new", root).exit_code == DONE
    (root / "program.xlsx").write_bytes(setup_workbook(WORDS, CONTENT))
    return root


@pytest.fixture
def issued(folder: Path) -> Path:
    """The same, with its field books issued."""
    assert run("issue", folder).exit_code == DONE
    return folder


def change_setup(root: Path, sheet: str, cell: str, value: object) -> None:
    """Type into a cell of the setup."""
    workbook = openpyxl.load_workbook(root / "program.xlsx")
    workbook[sheet][cell] = value
    workbook.save(root / "program.xlsx")


def one_sentence(result: Result) -> str:
    """What a command that could not do its work says: one line on stderr."""
    assert result.exit_code == COULD_NOT
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1
    return lines[0]


def test_one_book_is_spoken_of_as_one(issued: Path) -> None:
    """Counts and the words after them agree, in what `issue` and `merge` say."""
    assert "1 of them is unchanged." in run("issue", issued, "--store", "001").stdout
    assert "2 of them are unchanged." in run("issue", issued, "--store", "001", "--store", "002").stdout
    good = {**ALL_AS_PLANNED, "A-1-1": {"as_planned": "no", "label": "Quarnby", "tag": "no tag", "product": "set"}}
    fill_in(issued / "issued" / "SMALL 001.xlsx", issued / "returns" / "001.xlsx", GOOD_VISIT, good)
    assert "1 wrong label · 1 shelf tag missing or asked for · 2 open flags" in run("merge", issued).stdout


def test_the_whole_job_by_commands(issued: Path) -> None:
    """new, check, issue, validate, merge: each ends with 0 when all is well."""
    assert run("check", issued).exit_code == DONE
    fill_in(issued / "issued" / "SMALL 001.xlsx", issued / "returns" / "one.xlsx", GOOD_VISIT, ALL_AS_PLANNED)
    assert run("validate", issued, issued / "returns" / "one.xlsx").exit_code == DONE
    merged = run("merge", issued, "--as-of", "2026-03-04")
    assert merged.exit_code == DONE
    assert "1 of 3 stores done" in merged.output
    names = {path.name for path in (issued / "rollup").iterdir()}
    assert names >= {"rollup.xlsx", "status.csv", "flags.csv", "findings.csv", "files.csv", "positions.parquet"}


def test_somebodys_copy_of_the_roll_up_gives_its_notes(issued: Path, tmp_path: Path) -> None:
    """Named beside the folder, a copy is no return that could not be read: the notes in it are taken over."""
    visit = {**GOOD_VISIT, "photo": "no"}
    fill_in(issued / "issued" / "SMALL 001.xlsx", issued / "returns" / "one.xlsx", visit, ALL_AS_PLANNED)
    assert run("merge", issued, "--as-of", "2026-03-04").exit_code == DONE
    copy = tmp_path / "from Lee.xlsx"
    shutil.copyfile(issued / "rollup" / "rollup.xlsx", copy)
    notes = NotesSheet(copy)
    (key,) = notes.rows
    notes.write(key, owner="Lee", note="asked for it")
    notes.save()
    merged = run("merge", issued, copy, "--as-of", "2026-03-04")
    assert merged.exit_code == DONE
    assert merged.output.startswith("1 file: 1 merged.")
    assert NotesSheet(issued / "rollup" / "rollup.xlsx").read(key) == ("Lee", "asked for it", "")


def test_new_never_overwrites_a_program(folder: Path) -> None:
    """A second `new` says so and changes nothing."""
    before = (folder / "program.xlsx").read_bytes()
    assert "nothing was changed" in one_sentence(run("new", folder))
    assert (folder / "program.xlsx").read_bytes() == before


@pytest.mark.parametrize("command", ["check", "issue", "merge"])
def test_no_such_folder_is_one_sentence(command: str, tmp_path: Path) -> None:
    """It names the folder and the command that makes one."""
    assert "workbook-tools new" in one_sentence(run(command, tmp_path / "nowhere"))


def test_a_folder_without_a_setup_is_one_sentence(tmp_path: Path) -> None:
    """It says which file is missing."""
    assert "program.xlsx" in one_sentence(run("check", tmp_path))


@pytest.mark.parametrize("lock", ["~$program.xlsx", ".~lock.program.xlsx#"])
def test_a_setup_open_in_another_program_is_one_sentence(lock: str, folder: Path) -> None:
    """The lock files of both common spreadsheet programs are known."""
    (folder / lock).touch()
    assert lock in one_sentence(run("check", folder))


def test_a_fresh_setup_is_not_taken_as_data(tmp_path: Path) -> None:
    """`check` names every example and every empty block, and ends with 1."""
    run("new", tmp_path / "fresh")
    result = run("check", tmp_path / "fresh")
    assert result.exit_code == TO_MEND
    assert result.stdout.count("This is still the example") == 9


def test_a_deleted_sheet_is_named(folder: Path) -> None:
    """The block that is gone is a finding, not a crash."""
    workbook = openpyxl.load_workbook(folder / "program.xlsx")
    del workbook["Labels"]
    workbook.save(folder / "program.xlsx")
    result = run("check", folder)
    assert result.exit_code == TO_MEND
    assert "#labels" in result.stdout


def test_a_store_without_a_merchandiser_stops_the_issue(folder: Path) -> None:
    """`check` says where; `issue` says how many things are to be mended and writes nothing."""
    change_setup(folder, "Stores", "J6", None)
    result = run("check", folder, "--json")
    must = [one for one in json.loads(result.stdout)["findings"] if one["severity"] == "must mend"]
    assert [(one["sheet"], one["cell"], one["rule"]) for one in must] == [("Stores", "J6", "required")]
    assert "1 thing to mend" in one_sentence(run("issue", folder))
    assert not (folder / "issued" / "register.csv").exists()


@pytest.mark.parametrize(("content", "rule"), [(None, "picture_missing"), (b"no picture", "picture_kind")])
def test_a_picture_that_cannot_be_used_is_named(content: bytes | None, rule: str, folder: Path) -> None:
    """Missing, or not an image: a finding at the cell that names it."""
    change_setup(folder, "Items", "L5", "lids.png")
    if content is not None:
        (folder / "images" / "lids.png").write_bytes(content)
    findings = json.loads(run("check", folder, "--json").stdout)["findings"]
    assert ("L5", rule) in [(one["cell"], one["rule"]) for one in findings]


def test_merging_before_anything_was_issued_is_one_sentence(folder: Path) -> None:
    """It says which command comes first."""
    assert "workbook-tools issue" in one_sentence(run("merge", folder))


def test_an_empty_returns_folder_gives_a_roll_up_of_stores_not_back(issued: Path) -> None:
    """Nothing came back yet: said on stderr, and the roll-up is written all the same."""
    result = run("merge", issued)
    assert result.exit_code == DONE
    assert "nothing to read" in result.stderr
    assert (issued / "rollup" / "status.csv").read_text(encoding="utf-8-sig").count("not back") == 3


def test_foreign_files_are_set_aside_with_a_reason(issued: Path) -> None:
    """A merge ends with 0 whatever the returns hold."""
    (issued / "returns" / "letter.xlsx").write_text("Dear office", encoding="utf-8")
    openpyxl.Workbook().save(issued / "returns" / "list.xlsx")
    result = run("merge", issued, "--json")
    assert result.exit_code == DONE
    files = json.loads(result.stdout)["files"]
    assert [one["outcome"] for one in files] == ["set aside", "set aside"]
    assert all(one["reason"] for one in files)


def test_photos_are_counted(issued: Path) -> None:
    """Those that lie in the folder, and one that came in a mail with nothing else: no file is set aside for them."""
    picture = io.BytesIO()
    Image.new("RGB", (8, 8)).save(picture, "JPEG")
    mail = EmailMessage()
    mail["From"], mail["Subject"] = "ana@example.com", "The display"
    mail.add_attachment(picture.getvalue(), "image", "jpeg", filename="face A.jpg")
    (issued / "returns" / "photo.eml").write_bytes(mail.as_bytes())
    assert "1 photo came beside the returns." in run("merge", issued).stdout
    (issued / "returns" / "tower.jpg").write_bytes(picture.getvalue())
    assert "2 photos came beside the returns." in run("merge", issued).stdout
    told = json.loads(run("merge", issued, "--json").stdout)
    assert (told["photos"], told["files"]) == (2, [])


def test_validate_ends_with_one_when_something_must_be_mended(issued: Path) -> None:
    """A book that was sent back untouched."""
    shutil.copyfile(issued / "issued" / "SMALL 001.xlsx", issued / "back.xlsx")
    result = run("validate", issued, issued / "back.xlsx")
    assert result.exit_code == TO_MEND
    assert "Nothing is filled in" in result.stdout
    assert not (issued / "rollup" / "rollup.xlsx").exists()


def test_validate_cuts_lists_of_notices_and_nothing_else(issued: Path) -> None:
    """Of many notices of a kind it prints the first and how many more there are; whatever is to be mended, each."""
    for store in ("001", "002"):
        slips = {tray: {"as_planned": "NO", "label": "???"} for tray in ALL_AS_PLANNED}
        fill_in(issued / "issued" / f"SMALL {store}.xlsx", issued / f"{store}.xlsx", GOOD_VISIT, slips)
    arguments = ("validate", issued, issued / "001.xlsx", issued / "002.xlsx")
    printed = run(*arguments).stdout
    found = Counter(one["rule"] for one in json.loads(run(*arguments, "--json").stdout)["findings"])
    trays = 2 * len(ALL_AS_PLANNED)
    assert trays > MOST_ALIKE
    assert found["choice_recognised"] == found["not_a_choice"] == trays
    assert printed.count("“???”") == trays
    assert printed.count("“NO”") == MOST_ALIKE
    assert f"… and {trays - MOST_ALIKE} more like this" in printed


def test_validating_a_path_that_is_not_there_is_one_sentence(issued: Path) -> None:
    """It names the path."""
    assert "gone.xlsx" in one_sentence(run("validate", issued, issued / "gone.xlsx"))


def test_issuing_a_store_that_is_not_in_the_setup_is_one_sentence(folder: Path) -> None:
    """It names the store as typed."""
    assert "999" in one_sentence(run("issue", folder, "--store", "999"))


def test_help_names_every_command_with_an_example() -> None:
    """Each command's help shows how it is typed."""
    for name in main.commands:
        result = run(name, "--help")
        assert f"Example: workbook-tools {name}" in result.stdout
