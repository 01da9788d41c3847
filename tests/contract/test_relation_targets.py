"""Dots in the targets of relations are followed as the packaging standard says, and never out of the package."""

import re
from pathlib import Path

import pytest

from tests.faults.packages import WORKBOOK_RELATIONS, made, relations
from tests.returns.scene import Scene, changed, parts_of
from workbook_tools.contract.guard import Refusal, opened, vetted
from workbook_tools.contract.package import Package
from workbook_tools.contract.relation_targets import resolved, without_dots
from workbook_tools.contract.tags import relations as relations_in

SHEET = "xl/worksheets/sheet1.xml"


@pytest.mark.parametrize(
    ("folder", "target", "expected"),
    [
        ("xl/", "worksheets/sheet1.xml", "worksheets/sheet1.xml"),
        ("xl/", "/xl/worksheets/sheet1.xml", "/xl/worksheets/sheet1.xml"),
        ("xl/", "./worksheets/sheet1.xml", f"/{SHEET}"),
        ("xl/", "../xl/worksheets/sheet1.xml", f"/{SHEET}"),
        ("xl/", "/xl/../xl/./worksheets/sheet1.xml", f"/{SHEET}"),
        ("xl/", "charts/../worksheets/sheet1.xml", f"/{SHEET}"),
        ("", "./xl/workbook.xml", "/xl/workbook.xml"),
        ("xl/", "../../xl/worksheets/sheet1.xml", "../../xl/worksheets/sheet1.xml"),
        ("", "../xl/workbook.xml", "../xl/workbook.xml"),
        ("xl/", "/../xl/workbook.xml", "/../xl/workbook.xml"),
        ("xl/", ".hidden/..sheet.xml", ".hidden/..sheet.xml"),
    ],
)
def test_dots_are_followed_within_the_package(folder: str, target: str, expected: str) -> None:
    """One stays in the folder, two go up; names that begin with dots are names. What leads outside is left alone."""
    assert resolved(folder, target) == expected


def test_a_part_without_dots_is_the_same_bytes() -> None:
    """Nothing is rewritten but targets with dots: links to elsewhere, and all around them, stay as they are."""
    plain = relations([("worksheet", "worksheets/sheet1.xml"), ("styles", "/xl/styles.xml")])
    assert without_dots(plain, "xl/") is plain
    outside = b'<Relationship Id="a" Type="t/hyperlink" Target="./a" TargetMode="External"/>'
    inside = b"<Relationship Target='./a&amp;b\\1.xml' Id='b' Type='t/x'/>"
    mixed = b"<Relationships>" + outside + b"\n" + inside + b"</Relationships>"
    made_plain = without_dots(mixed, "xl/")
    assert made_plain == mixed.replace(b"'./a&amp;b\\1.xml'", b'"/xl/a&amp;b\\1.xml"')
    assert [one.target for one in relations_in(made_plain)] == ["/xl/a&b\\1.xml"]


@pytest.mark.parametrize("root", ["xl/workbook.xml", "./xl/workbook.xml", "xl/../xl/workbook.xml"])
def test_what_the_reader_is_given_has_no_dots(root: str) -> None:
    """Its own zip is whole: every part has the checksum of what it holds."""
    targets = [("worksheet", "../xl/./worksheets/sheet1.xml"), ("sharedStrings", "./sharedStrings.xml")]
    parts = {WORKBOOK_RELATIONS: relations(targets), "_rels/.rels": relations([("officeDocument", root)])}
    package = opened(made(parts))
    assert isinstance(package, Package)
    given = vetted(package)
    assert isinstance(given, bytes)
    again = opened(given)
    assert isinstance(again, Package)
    assert again.sheets == [("Return", SHEET)]
    assert b'Target="/xl/worksheets/sheet1.xml"' in again.read(WORKBOOK_RELATIONS.lower())
    assert not re.search(rb'Target="[^"]*\./', again.read(WORKBOOK_RELATIONS.lower()) + again.read("_rels/.rels"))


def test_targets_that_lead_outside_are_refused() -> None:
    """They name no part of the package."""
    targets = [("worksheet", "../../xl/worksheets/sheet1.xml")]
    assert opened(made({WORKBOOK_RELATIONS: relations(targets)})) == Refusal(
        "missing_part", "xl/xl/worksheets/sheet1.xml"
    )


def test_a_return_whose_relations_have_dots_is_merged(tmp_path: Path) -> None:
    """A whole book, as a program could have saved it again."""
    scene = Scene(tmp_path / "program")
    before = scene.filled("001")
    plain, dotted = b'Target="worksheets/', b'Target="../xl/./worksheets/'
    data = changed(
        before, lambda name, part: part.replace(plain, dotted) if name == "xl/_rels/workbook.xml.rels" else part
    )
    assert dotted in parts_of(data)["xl/_rels/workbook.xml.rels"]
    assert scene.only(data).outcome == scene.only(before).outcome == "merged"
    assert scene.only(data).answers == scene.only(before).answers
