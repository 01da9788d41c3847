"""`check` and `new --from` as the office types them: what is printed, what is written, how they end."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result

from tests.program.setups import IN_ORDER, changed, put, setup_file, with_values
from workbook_tools.cli import MOST_ALIKE, main

DONE, TO_MEND, COULD_NOT = 0, 1, 2
AS_OF = ("--as-of", "2027-02-01")


def run(*arguments: object) -> Result:
    """Run a command as typed."""
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def test_check_says_what_the_setup_comes_to(tmp_path: Path) -> None:
    """In order: exit status 0, notes at most, then the kit, the window and the visits in a line each."""
    setup_file(tmp_path, with_values("program", 1, visit_minutes=45))
    result = run("check", tmp_path, *AS_OF)
    assert result.exit_code == DONE
    assert "The setup is in order: 2 stores, 3 positions, 3 items." in result.stdout
    assert "A display: 3 trays, 3 brand labels, 3 shelf tags" in result.stdout
    assert "The window: 2027-03-01 to 2027-03-14, 10 working days for 2 stores: 1 a day." in result.stdout
    assert "The visits: 2 of 45 minutes take 1.5 hours" in result.stdout


def test_days_left_are_counted_only_until_books_are_out(tmp_path: Path) -> None:
    """Within the window the days that are left are told; once books are issued, only what the whole window holds."""
    setup_file(tmp_path)
    within = ("check", tmp_path, "--as-of", "2027-03-12")
    assert "10 working days. 1 of them is left for 2 stores: 2 a day." in run(*within).stdout
    assert run("issue", tmp_path).exit_code == DONE
    assert "10 working days for 2 stores: 1 a day." in run(*within).stdout


def test_the_window_is_seen_from_the_day_given(tmp_path: Path) -> None:
    """--as-of moves the day; a window that is over is said, and is not a reason to fail."""
    setup_file(tmp_path)
    result = run("check", tmp_path, "--as-of", "2028-01-01")
    assert result.exit_code == DONE
    assert "worth a look: program.xlsx Program C12: The last day (2027-03-14) is over (today is 2028-01-01)" in (
        result.stdout
    )


def test_goods_that_do_not_fit_hold_back_check_and_issue(tmp_path: Path) -> None:
    """`check` ends with 1 and `issue` with 2, without a book."""
    setup_file(tmp_path, with_values("items", 1, width=9))
    result = run("check", tmp_path, *AS_OF)
    assert result.exit_code == TO_MEND
    assert (
        "must be mended: program.xlsx Positions F5: A-1-1: 3 facings of 9 in take 27 in; the shelf is 24 in wide."
        in (result.stdout)
    )
    refused = run("issue", tmp_path)
    assert refused.exit_code == COULD_NOT
    assert "1 thing to mend" in refused.stderr
    assert not (tmp_path / "issued" / "register.csv").exists()


def test_advice_never_holds_books_back(tmp_path: Path) -> None:
    """Labels short and a mail address that is none are worth a look: books are issued all the same."""
    setup_file(tmp_path, changed(labels=[{"brand": "Pellwood", "packed": 1}, {"brand": "Quarnby", "packed": 1}]))
    result = run("check", tmp_path, *AS_OF)
    assert result.exit_code == DONE
    assert "1 short in every display, 2 in all" in result.stdout
    assert run("issue", tmp_path).exit_code == DONE


def test_a_long_list_of_the_same_is_cut_and_counted(tmp_path: Path) -> None:
    """A screen shows the first of a kind and how many more there are; --json lists them all."""
    stores = [{"store": f"{n:05}", "name": f"Store {n}", "merchandiser": "Nobody"} for n in range(40)]
    setup_file(tmp_path, changed(stores=stores))
    result = run("check", tmp_path, *AS_OF)
    assert result.stdout.count("“Nobody” does not stand under Merchandisers.") == MOST_ALIKE
    lines = result.stdout.splitlines()
    (more,) = [number for number, line in enumerate(lines) if f"… and {40 - MOST_ALIKE} more like this" in line]
    assert "Stores" in lines[more - 1]
    assert "“Nobody”" in lines[more - 1]
    assert "40 to mend" in result.stderr
    told = json.loads(run("check", tmp_path, "--json", *AS_OF).stdout)
    assert sum(one["rule"] == "refers_nowhere" for one in told["findings"]) == 40


def test_check_writes_what_is_asked_for(tmp_path: Path) -> None:
    """Four workbooks beside the setup, each said in a line; without options nothing is written."""
    setup_file(tmp_path, with_values("program", 1, visit_minutes=45))
    before = sorted(path.name for path in tmp_path.iterdir())
    run("check", tmp_path, *AS_OF)
    assert sorted(path.name for path in tmp_path.iterdir()) == before
    result = run("check", tmp_path, *AS_OF, "--mark", "--draw", "--orders", "--assign", "--loss", "5")
    assert result.exit_code == DONE
    for name in ("program-checked.xlsx", "faces.xlsx", "orders.xlsx", "assign.xlsx"):
        assert openpyxl.load_workbook(tmp_path / name).sheetnames
        assert name in result.stdout
    about = openpyxl.load_workbook(tmp_path / "orders.xlsx")["Parts"]["A2"].value
    assert "an expected loss of 5%" in about


def test_what_is_written_never_stops_the_next_check(tmp_path: Path) -> None:
    """The workbooks that `check` writes are not taken for the setup, and are written again."""
    setup_file(tmp_path)
    for _ in range(2):
        assert run("check", tmp_path, *AS_OF, "--mark", "--draw", "--orders").exit_code == DONE


@pytest.mark.parametrize("option", [("--loss", "99"), ("--since", "0"), ("--as-of", "soon")])
def test_a_wrong_option_is_refused(tmp_path: Path, option: tuple[str, str]) -> None:
    """Exit status 2, and the usage says why."""
    setup_file(tmp_path)
    assert run("check", tmp_path, *option).exit_code == COULD_NOT


def test_a_program_from_the_last_one(tmp_path: Path) -> None:
    """`new --from` says what came along; the new folder holds the pictures of the steps and waits for a planogram."""
    (tmp_path / "old").mkdir()
    setup_file(tmp_path / "old")
    result = run("new", tmp_path / "next", "--from", tmp_path / "old")
    assert result.exit_code == DONE
    assert "2 stores, 2 merchandisers, 1 part, 1 step" in result.stdout
    assert [path.name for path in (tmp_path / "next" / "images").iterdir()] == ["step.png"]
    told = json.loads(run("check", tmp_path / "next", "--json", *AS_OF).stdout)
    must = {(one["sheet"], one["rule"]) for one in told["findings"] if one["severity"] == "must mend"}
    assert must == {
        ("Program", "required"), ("Positions", "block_empty"), ("Items", "block_empty"), ("Labels", "block_empty"),
    }  # fmt: skip


def test_new_from_nowhere_makes_nothing(tmp_path: Path) -> None:
    """Without the old folder, one sentence and no new one."""
    result = run("new", tmp_path / "next", "--from", tmp_path / "nowhere")
    assert result.exit_code == COULD_NOT
    assert len(result.stderr.strip().splitlines()) == 1
    assert not (tmp_path / "next").exists()


def test_check_since_a_revision(tmp_path: Path) -> None:
    """What changed since books went out, and who must get a new one."""
    setup_file(tmp_path)
    assert run("issue", tmp_path).exit_code == DONE
    assert "Nothing changed since revision 1." in run("check", tmp_path, *AS_OF, "--since", "1").stdout
    setup_file(tmp_path, IN_ORDER, [put("stores", 2, "street", "1 Mill Lane")])
    result = run("check", tmp_path, *AS_OF, "--since", "1")
    assert "Stores, 00418: Street was “blank”, is “1 Mill Lane”." in result.stdout
    assert "1 store must get a new book: 00418." in result.stdout
    missing = run("check", tmp_path, *AS_OF, "--since", "9")
    assert missing.exit_code == COULD_NOT
    assert "There is no revision 9" in missing.stderr


@pytest.mark.parametrize("module", ["workbook_tools.field_book.issue", "workbook_tools.program.load"])
def test_issuing_loads_nothing_that_only_advice_needs(module: str) -> None:
    """Statistics, holidays, tables and the solver are for `check`, where they are needed at all."""
    heavy = {"numpy", "scipy", "holidays", "pandera", "polars"}
    code = f"import sys, {module}; print(sorted(sys.modules.keys() & {heavy}))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
