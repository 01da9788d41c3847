"""Hostile and broken mails: none is lost, none keeps the collecting waiting, none costs more than itself."""

from pathlib import Path

import pytest

from tests.faults.packages import made
from tests.returns.mails import FROM, SENT, TEXT, attached, multipart
from workbook_tools.contract.guard import guard
from workbook_tools.returns.collect import Candidate, collect

BOOK = made()
SOUND = multipart(TEXT, attached(BOOK, "book.xlsx"))


def collected(folder: Path, data: bytes) -> list[Candidate]:
    """What one file gives."""
    (folder / "mail").write_bytes(data)
    return list(collect([folder], folder))


def nested(levels: int, lines: int) -> bytes:
    """Parts within parts, around some lines of text."""
    head = b"".join(b'Content-Type: multipart/mixed; boundary="b%d"\n\n--b%d\n' % (n, n) for n in range(levels))
    return FROM + head + b"Content-Type: text/plain\n\n" + b"a line of text\n" * lines


PARTS = FROM + b"Content-Type: multipart/mixed; boundary=b\n\n"
BOMBS = {
    "deep parts": (lambda: nested(2_000, 10), "mail_unreadable"),
    "deep mails": (lambda: FROM + b"Content-Type: message/rfc822\n\n" * 500 + b"x", "archive_too_deep"),
    "many attachments": (lambda: PARTS + b"--b\nContent-Type: a/b; name=x\n\nq\n" * 5_000, "archive_too_many"),
    "million empty parts": (lambda: PARTS + b"--b\n\n" * 1_000_000, "archive_too_many"),
    "deep parts over many lines": (lambda: nested(300, 200_000), "archive_too_many"),
    "long headers": (lambda: PARTS + (b"--b\nContent-Type: a/b" + b";" * 3_900 + b"\n\nq\n") * 300, "mail_unreadable"),
    "header of a megabyte": (lambda: FROM + b"Content-Type: a" + b";a" * 500_000 + b"\n\nx", "mail_unreadable"),
    "header over many lines": (lambda: FROM + b"Content-Type: a" + b";\n a" * 50_000 + b"\n\nx", "mail_unreadable"),
    "long words in a header": (
        lambda: FROM + b"Subject: " + b"=?utf-8?q?a?= " * 200_000 + b"\n\nx",
        "nothing_attached",
    ),
    "many headers": (lambda: FROM + b"X: 1\n" * 100_000 + b"\nx", "nothing_attached"),
}


@pytest.mark.parametrize("name", BOMBS)
def test_a_mail_built_to_keep_us_waiting_is_one_candidate(tmp_path, name):
    """The parser never sees what it would sit over; the mail stays in sight with its reason."""
    maker, expected = BOMBS[name]
    (candidate,) = collected(tmp_path, maker())
    assert candidate.refusal is not None
    assert candidate.refusal.rule == expected


def test_a_mail_cut_anywhere_is_accounted_for(tmp_path):
    """Cut at each per cent of its length, a mail gives one candidate; the book in it is whole or refused as cut."""
    for percent in range(1, 100):
        data = SOUND[: len(SOUND) * percent // 100]
        (candidate,) = collected(tmp_path, data)
        if candidate.kind == "workbook":
            refusal = guard(candidate.read())
            assert refusal is None or refusal.rule in {"cut_short", "empty_file", "text_file"}
            assert refusal is not None or candidate.read() == BOOK


def test_a_mail_with_any_line_lost_is_accounted_for(tmp_path):
    """Without any one of its lines the mail is one candidate, and what is read of the book is the book or refused."""
    lines = SOUND.split(b"\n")
    for number in range(len(lines)):
        (candidate,) = collected(tmp_path, b"\n".join(lines[:number] + lines[number + 1 :]))
        if candidate.kind == "workbook" and guard(candidate.read()) is None:
            assert candidate.read() == BOOK
            assert candidate.received == SENT or number < 3
