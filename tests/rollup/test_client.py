"""The client's copy holds no person, no store and no remark, wherever in the file one looks."""

from __future__ import annotations

import dataclasses
import datetime as dt
import io
import zipfile
from pathlib import Path

import polars as pl
import pytest

from tests.rollup.book_reads import opened, texts
from tests.rollup.invented import Told, facts_of
from workbook_tools.contract.words import languages, words_for
from workbook_tools.rollup.client import client_workbook
from workbook_tools.rollup.merge import Facts

SECRET = "Zyxwv"
"""Stands in everything that must not be told; no word of any language holds it."""
STORE_TEXTS = ("name", "street", "city", "region", "postcode", "phone")
PERSON_TEXTS = ("name", "email", "phone")


@pytest.fixture
def facts() -> Facts:
    """Stores of every state, with secrets in the texts about people and stores, and in what was remarked."""
    told = [
        Told(merchandiser=f"{SECRET}1"),
        Told(merchandiser=f"{SECRET}1", wrong={"A-1-1": "no label", "A-1-2": "Quarnby"}),
        Told(merchandiser=f"{SECRET}2", asked=["B-1-1"]),
        Told(None, merchandiser=f"{SECRET}2"),
        Told(merchandiser=f"{SECRET}2", built="no"),
    ]
    facts = facts_of(told, dt.date(2026, 3, 9))
    program = facts.program
    people = tuple(dataclasses.replace(one, **dict.fromkeys(PERSON_TEXTS, SECRET)) for one in program.merchandisers)
    stores = tuple(dataclasses.replace(one, **dict.fromkeys(STORE_TEXTS, SECRET)) for one in program.stores)
    settings = dataclasses.replace(program.settings, contact=SECRET, phone=SECRET, email=f"{SECRET}@example.com")
    program = dataclasses.replace(program, settings=settings, stores=stores, merchandisers=people)
    remarked = facts.flags.with_columns(pl.lit(f"{SECRET} said so").alias("note"))
    visits = facts.visits.with_columns(pl.lit(f"returns/{SECRET}.xlsx").alias("file"))
    status = facts.status.with_columns(pl.lit(SECRET).alias("name"), pl.lit(f"{SECRET}.xlsx").alias("file"))
    return dataclasses.replace(facts, program=program, flags=remarked, visits=visits, status=status)


@pytest.mark.parametrize("language", languages())
def test_no_part_of_the_file_holds_a_name_or_a_remark(facts: Facts, language: str) -> None:
    """Sheets, texts, properties, names, charts, links, comments: every part is looked through, its name too."""
    with zipfile.ZipFile(io.BytesIO(client_workbook(facts, words_for(language)))) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    assert len(parts) > 10
    telling = {name for name, data in parts.items() if SECRET.encode() in data or SECRET in name}
    assert telling == set()
    assert not [name for name in parts if "comment" in name.lower()]
    assert b"Invented" in parts["docProps/core.xml"]


def test_nothing_is_hidden_in_it(facts: Facts, tmp_path: Path) -> None:
    """Two sheets that are seen, no hidden rows or columns, no names but those of what is printed."""
    path = tmp_path / "client.xlsx"
    path.write_bytes(client_workbook(facts, words_for("en")))
    book = opened(path)
    assert [(sheet.title, sheet.sheet_state) for sheet in book.worksheets] == [
        ("Report", "visible"),
        ("Maps", "visible"),
    ]
    assert list(book.defined_names) == []
    for sheet in book.worksheets:
        assert not [one for one in sheet.row_dimensions.values() if one.hidden]
        assert not [one for one in sheet.column_dimensions.values() if one.hidden]


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", {"store", "store reported", "display stands", "display stands right"}),
        ("es", {"tienda", "tienda con informe", "expositor montado", "expositor bien"}),
        ("fr", {"magasin", "magasin revenu", "présentoir monté", "présentoir conforme"}),
    ],
)
def test_one_store_is_told_as_one(language: str, said: set[str], tmp_path: Path) -> None:
    """The words of the cards go by their counts."""
    book = tmp_path / "client.xlsx"
    book.write_bytes(client_workbook(facts_of([Told()]), words_for(language)))
    sheet = opened(book).worksheets[0]
    assert said <= set(texts(sheet))
