"""What a book asks for: written beside the register, read back by token, only ever added to."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbook_tools.contract.words import words_for
from workbook_tools.errors import FolderError
from workbook_tools.program.asked import Asked, Told, append_asked, flag, read_asked
from workbook_tools.program.register import IssuedBook, append, read_register

WORDS = words_for("en")
ONE = Asked(
    (
        flag("positions", "A-1-1", "label_mismatch", "Pellwood"),
        flag("positions", "A-1-1", "tag_asked", "000101"),
        Told("positions", "A-1-1", "label", "Quarnby"),
        Told("positions", "B-2-1"),
        flag("parts", "P2", "part_missing", "4"),
        Told("parts", "P2", "missing", "1"),
        flag("visit", "photo", "photo_missing", "one"),
        Told("settled", "place", "answer", "Front"),
        Told("labels", "Pellwood", "count", "2"),
    )
)


def test_a_book_says_what_it_asks_for_and_what_was_before() -> None:
    """By block and row: what is asked, its open flags with what is due, the answers given before, what to bring."""
    assert ONE.keys("positions") == ("A-1-1", "B-2-1")
    assert (ONE.keys("parts"), ONE.keys("visit"), ONE.keys("kit")) == (("P2",), ("photo",), ())
    assert ONE.flags("positions", "A-1-1") == {"label_mismatch": "Pellwood", "tag_asked": "000101"}
    assert ONE.before("positions", "A-1-1") == {"label": "Quarnby"}
    assert (ONE.flags("positions", "B-2-1"), ONE.before("positions", "B-2-1")) == ({}, {})
    assert ONE.before("settled", "place") == {"answer": "Front"}
    assert (ONE.counts("labels"), ONE.counts("kit")) == ({"Pellwood": 2}, {})


def test_what_is_added_is_read_back_by_token(tmp_path: Path) -> None:
    """Earlier rows stay, byte by byte; a token that is not there asks for everything."""
    path = tmp_path / "issued" / "asked.csv"
    assert read_asked(path, WORDS) == {}
    append_asked(path, {"t1": ONE}, WORDS)
    before = path.read_bytes()
    append_asked(path, {"t2": Asked((Told("positions", "A-1-2"),))}, WORDS)
    assert path.read_bytes().startswith(before)
    found = read_asked(path, WORDS)
    assert found == {"t1": ONE, "t2": Asked((Told("positions", "A-1-2"),))}


def test_the_register_knows_it(tmp_path: Path) -> None:
    """One reading gives both; a damaged table is one sentence, never a book that asks for everything."""
    about = {"merchandiser": "Kim", "revision": 1, "file": "f", "sha256": "0", "issued": ""}
    books = [
        IssuedBook(store="001", visit=1, token="t0", **about),  # type: ignore[arg-type]
        IssuedBook(store="001", visit=2, token="t1", **about),  # type: ignore[arg-type]
    ]
    append_asked(tmp_path / "asked.csv", {"t1": ONE}, WORDS)
    append(tmp_path / "register.csv", books, WORDS)
    register = read_register(tmp_path / "register.csv", WORDS)
    assert register.asked == {"t1": ONE}
    assert (register.last_visit("001"), register.last_visit("002")) == (2, 0)
    (tmp_path / "asked.csv").write_text("token,block,key\r\nt1,positions,A-1-1\r\n")
    with pytest.raises(FolderError, match=r"asked\.csv is damaged \(row 1\)"):
        read_register(tmp_path / "register.csv", WORDS)


TEXTS = st.text(st.characters(exclude_categories=["Cs", "Cc"]) | st.sampled_from("\n,\"'"), max_size=12)
ROWS = st.lists(st.builds(Told, TEXTS, TEXTS, TEXTS, TEXTS), min_size=1, max_size=5).map(tuple)


@given(st.dictionaries(TEXTS, st.builds(Asked, ROWS), max_size=3))
@settings(max_examples=40, deadline=None)
def test_whatever_was_reported_reads_back_the_same(tmp_path_factory: pytest.TempPathFactory, asked: dict) -> None:
    """Texts of every kind, with commas, quotes and line ends in them."""
    path = tmp_path_factory.mktemp("asked") / "asked.csv"
    append_asked(path, asked, WORDS)
    assert read_asked(path, WORDS) == asked
