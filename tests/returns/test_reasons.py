"""The reason of every outcome that asks for something is a full sentence that says what to do next."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest

from tests.returns.scene import Scene, result_of
from workbook_tools.contract.guard import REFUSALS
from workbook_tools.contract.words import languages, words_for

SENTENCES = re.compile(r"[A-ZÁÉÍÓÚÀÈÊÎÔÛÇÑ“«¿].*\.", re.DOTALL)
COMMAND = "workbook-tools correct"


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Scene:
    """The small program, issued."""
    return Scene(tmp_path_factory.mktemp("reasons"))


@pytest.mark.parametrize("language", languages())
def test_what_is_to_correct_says_how_it_gets_back_to_its_sender(language: str, scene: Scene) -> None:
    """How many things there are, by number, and the command that writes the book to send back."""
    scene.clear()
    scene.put(
        one=scene.filled("001", visit={"time_out": dt.time(8)}),
        two=scene.filled("002", visit={"time_out": dt.time(8), "built": "no"}),
    )
    intake = scene.take_in()
    words = words_for(language)
    one, two = (str(result_of(intake, name).row(words)["reason"]) for name in ("one", "two"))
    for reason, count in ((one, "1 "), (two, "2 ")):
        assert SENTENCES.fullmatch(reason)
        assert count in reason
        assert COMMAND in reason
    assert one.replace("1", "2") != two


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("rule", REFUSALS)
def test_every_refusal_says_what_to_do(rule: str, language: str) -> None:
    """Two full sentences: what is wrong, and what to do about it."""
    words = words_for(language)
    problem, todo = (words.table[f"rules.{rule}.{part}"] for part in ("problem", "todo"))
    assert SENTENCES.fullmatch(problem) or problem.startswith("{")
    assert SENTENCES.fullmatch(todo)
    assert len(todo.split()) > 3


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        (
            "winmail.dat",
            b"\x78\x9f\x3e\x22" + bytes(200),
            "Ask for the field book again, attached to a mail in plain text or HTML instead of rich text.",
        ),
        (
            "return.msg",
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504) + "__properties_version1.0".encode("utf-16-le"),
            "Open the mail, save the field book attached to it, and put that into the returns folder.",
        ),
    ],
)
def test_mails_of_one_mail_program_only_are_set_aside_with_the_way_out(
    name: str, data: bytes, told: str, tmp_path: Path
) -> None:
    """They are not opened; who reads the reason can get at the field book all the same."""
    scene = Scene(tmp_path)
    (scene.folder.returns / name).write_bytes(data)
    (result,) = scene.take_in().results
    assert result.outcome == "set aside"
    assert str(result.row(words_for("en"))["reason"]).endswith(told)
