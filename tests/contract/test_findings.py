"""A finding says what, where, which value and what to do next, in the words of a language."""

from __future__ import annotations

import datetime as dt

import pytest

from workbook_tools.contract.findings import SHOWN_VALUE_LENGTH, Finding, Offered, Phrase, limits, must_mend, shown
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import Field, Severity
from workbook_tools.contract.words import Words, words_for

CONTRACT = default_contract()
ENGLISH = words_for("en")
FINDING = Finding(
    rule="refers_nowhere", severity="must mend", file="program.xlsx", sheet="Items", cell="E5", column="brand",
    value="Pelwood", about="setup.items.brand",
    fields={
        "target": Phrase("setup.sheets.labels"), "did_you_mean": Phrase("messages.did_you_mean", {"near": "Pellwood"})
    },
)  # fmt: skip


def test_a_finding_is_said_in_words() -> None:
    """The column is named by its heading, phrases are put into words, and the fields fill the sentence."""
    assert FINDING.problem(ENGLISH) == "“Pelwood” does not stand under Labels."
    assert FINDING.todo(ENGLISH) == "Correct it, or add it there (did you mean “Pellwood”?)."


def test_a_phrase_waits_for_its_language() -> None:
    """The same finding speaks whichever language it is asked in."""
    table = {**ENGLISH.table, "setup.sheets.labels": "Etikedoj", "rules.refers_nowhere.problem": "{target}: {value}?"}
    assert FINDING.problem(Words("eo", table)) == "Etikedoj: Pelwood?"


def test_a_prompt_stands_in_the_sentence_where_the_field_has_one() -> None:
    """A sentence may end with what the field is for; a field without a prompt leaves it out."""
    blank = Finding(rule="required", severity="must mend", about="setup.items.item_code")
    assert blank.problem(ENGLISH) == "“Item code” is blank."
    assert blank.todo(ENGLISH) == "Fill it in: The chain's own number, with its leading zeros."
    assert Finding(rule="required", severity="must mend", about="field_book.book.token").todo(ENGLISH) == "Fill it in: "


def test_a_finding_is_a_row_of_the_findings_table() -> None:
    """The row has the columns of findings.csv, in their order, with keys for column, severity and rule."""
    row = FINDING.row(ENGLISH)
    assert tuple(row) == CONTRACT.tables["findings"]
    assert (row["column"], row["severity"], row["rule"], row["store"]) == ("brand", "must mend", "refers_nowhere", "")


@pytest.mark.parametrize("rule", CONTRACT.rules)
def test_every_rule_can_be_said(rule: str) -> None:
    """Both sentences of a rule come out filled in, without a brace left."""
    names = ENGLISH.fields_of(f"rules.{rule}.problem") | ENGLISH.fields_of(f"rules.{rule}.todo")
    own = {"file", "sheet", "cell", "column", "value", "prompt"}
    finding = Finding(
        rule=rule, severity=CONTRACT.rules[rule], about="setup.items.item", value="X", file="F",
        fields={name: f"<{name}>" for name in names - own},
    )  # fmt: skip
    said = f"{finding.problem(ENGLISH)} {finding.todo(ENGLISH)}"
    assert "{" not in said
    assert all(f"<{name}>" in said for name in names - own)


@pytest.mark.parametrize(
    ("severities", "must"),
    [([], False), (["note", "look at"], False), (["note", "must mend"], True)],
)
def test_only_what_must_be_mended_stops(severities: list[Severity], must: bool) -> None:
    """Notes and things to look at hold nothing up."""
    assert must_mend(Finding(rule="required", severity=severity) for severity in severities) is must


@pytest.mark.parametrize(
    ("field", "said"),
    [
        (Field(key="x", type="integer", minimum=1, maximum=99), "Give a number from 1 to 99."),
        (Field(key="x", type="number", minimum=0.5), "Give a number of at least 0.5."),
        (Field(key="x", type="number", maximum=9), "Give a number of at most 9."),
        (Field(key="x", type="number", above=0), "Give a number above 0."),
        (Field(key="x", type="number", above=0, maximum=9), "Give a number above 0 and at most 9."),
        (Field(key="x", type="integer", maximum=1_000_000), "Give a number of at most 1000000."),
    ],
)
def test_a_range_is_said_as_it_is(field: Field, said: str) -> None:
    """Every combination of bounds has its words, with whole numbers written out."""
    finding = Finding(rule="out_of_range", severity="must mend", fields=limits(CONTRACT, field, {}))
    assert finding.todo(ENGLISH) == said


def test_choices_are_told_apart_even_when_they_hold_commas() -> None:
    """What can be picked is listed so that `in, lb` is one choice."""
    field = Field(key="x", type="choice", choices="units")
    finding = Finding(rule="not_a_choice", severity="must mend", value="feet", about="setup.program.units")
    finding = Finding(**{**_fields(finding), "fields": limits(CONTRACT, field, {})})  # type: ignore[arg-type]
    assert finding.todo(ENGLISH) == "Pick one of: in, lb · cm, kg."
    label = Field(key="x", type="choice", choices="label")
    offered = limits(CONTRACT, label, {"brands": ("Pellwood",)})["choices"]
    assert isinstance(offered, Offered)
    assert offered.say(words_for("en")) == "Pellwood · no label"
    assert offered.say(words_for("fr")) == "Pellwood · sans bandeau"


def _fields(finding: Finding) -> dict[str, object]:
    return {name: getattr(finding, name) for name in Finding.__dataclass_fields__}


def test_a_length_is_said_as_a_number() -> None:
    """The limit of a text stands in its sentence."""
    field = Field(key="x", type="text", maximum=1000)
    finding = Finding(rule="too_long", severity="must mend", fields=limits(CONTRACT, field, {}))
    assert finding.problem(ENGLISH) == "The text is longer than 1000 characters."


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        (None, ""), ("", ""), (" two\nlines\t", "two lines"), (7.0, "7"), (7.5, "7.5"),
        (9520000000011.0, "9520000000011"), (dt.date(2027, 3, 1), "2027-03-01"), (dt.time(9, 40), "09:40:00"),
        (float("nan"), "nan"),
        ("x" * 200, "x" * 200),
        ("x" * 201, "x" * 199 + "…"),
    ],
)  # fmt: skip
def test_a_value_is_shown_on_one_short_line(raw: object, text: str) -> None:
    """Whole numbers without `.0`, line ends as spaces, and never more than 200 characters."""
    assert shown(raw) == text
    assert len(shown(raw)) <= SHOWN_VALUE_LENGTH
