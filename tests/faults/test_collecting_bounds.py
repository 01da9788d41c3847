"""Files built to fill the memory or to take for ever while they are collected: each is read, or has its reason."""

from __future__ import annotations

import base64
import encodings.punycode
import tracemalloc
from pathlib import Path

import pytest

from tests.faults.packages import MB
from tests.faults.strangers import plain_zip
from tests.returns.mails import FROM, TEXT, attached, multipart
from workbook_tools.contract.contents import shown_path
from workbook_tools.contract.guard import Refusal
from workbook_tools.contract.zip_directory import Member
from workbook_tools.contract.zips import inflate
from workbook_tools.returns import mails, unpack
from workbook_tools.returns.candidate import fetched
from workbook_tools.returns.collect import Candidate, collect
from workbook_tools.returns.mail_parts import files_in_text, parsed

MESSAGE = b"From kim@example.org Tue Mar  4 21:40:05 2025\n" + FROM + b"\nDone.\n\n"


def collected(folder: Path, data: bytes) -> list[Candidate]:
    """What one file gives."""
    (folder / "file").write_bytes(data)
    return list(collect([folder], folder))


def refusals(found: list[Candidate]) -> list[str]:
    """The rules by which candidates are refused, in order."""
    return [one.refusal.rule if one.refusal else "" for one in found]


def test_no_charset_a_mail_names_is_used_to_look_at_its_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Punycode takes the square of the length: half a megabyte kept a merge for a minute."""
    monkeypatch.setattr(encodings.punycode, "punycode_decode", lambda *_: pytest.fail("decoded"))
    body = b"\xff-" + b"b9" * 50
    mail = multipart(TEXT, b"Content-Type: a/b; name=x.xlsx; charset=punycode\n\n" + body)
    (found,) = collected(tmp_path, mail)
    assert found.read() == body


def test_bytes_beyond_ascii_come_through_a_mail_as_they_are(tmp_path: Path) -> None:
    """A file that is not packed at all, in a part of plain bytes under a name in plain UTF-8."""
    body = bytes(range(128, 256)) * 3
    head = 'Content-Type: a/b\nContent-Disposition: attachment; filename="Café.xlsx"\n'.encode()
    (found,) = collected(tmp_path, multipart(TEXT, head + b"Content-Transfer-Encoding: 8bit\n\n" + body))
    assert found.origin.endswith("Café.xlsx")
    assert found.read() == body


def test_lines_that_look_uuencoded_take_no_memory_each() -> None:
    """Two hundred thousand lines of a file that never ends are looked at within little more than their own size."""
    part = parsed(FROM + b"\nbegin 644 a\n" + b"!\n" * 200_000 + b"x\n")
    tracemalloc.start()
    try:
        assert list(files_in_text(part)) == []
        assert tracemalloc.get_traced_memory()[1] < 4 * MB
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("end", [b"\n", b"\r", b"\r\n"])
def test_a_mail_of_far_too_many_lines_is_not_parsed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, end: bytes
) -> None:
    """Whatever ends its lines: each takes many times its own bytes."""
    monkeypatch.setattr(mails, "_MAX_LINES", 200)
    assert refusals(collected(tmp_path, FROM + b"\n" + (b"x" + end) * 300)) == ["mail_unreadable"]


def test_a_mail_is_parsed_within_a_few_times_its_size(tmp_path: Path) -> None:
    """Its bytes, its lines and its files, and no more copies: a mail of many photos must be read in a worker too."""
    head = b"Content-Type: image/jpeg; name=a.jpg\nContent-Transfer-Encoding: base64\n\n"
    data = multipart(TEXT, head + base64.encodebytes(b"\xff\xd8\xff" + bytes(6 * MB)))
    tracemalloc.start()
    try:
        mails.take_apart(data)
        assert tracemalloc.get_traced_memory()[1] < 4 * len(data)
    finally:
        tracemalloc.stop()


def test_a_mailbox_has_a_bound(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Messages and what is attached to them count; what is beyond has one reason."""
    monkeypatch.setattr(unpack, "MAX_IN_MAILBOX", 10)
    assert refusals(collected(tmp_path, MESSAGE * 50)) == ["nothing_attached"] * 10 + ["archive_too_many"]
    files = MESSAGE.split(b"\n")[0] + b"\n" + multipart(attached(b"a", "1.xlsx"), attached(b"b", "2.xlsx")) + b"\n"
    rules = refusals(collected(tmp_path, files * 50))
    assert len(rules) < 12
    assert rules[-1] == "archive_too_many"


def test_a_mailbox_in_a_zip_shares_the_bound_of_the_zip(tmp_path: Path) -> None:
    """Messages count as files of the zip, and so does the mailbox."""
    rules = refusals(collected(tmp_path, plain_zip({"all.mbox": MESSAGE * (unpack.MAX_MEMBERS + 50)})))
    assert rules == ["nothing_attached"] * (unpack.MAX_MEMBERS - 1) + ["archive_too_many"]


def test_a_message_too_large_is_not_had(tmp_path: Path) -> None:
    """A message beyond the bound of a mail is refused where it is found, and reading it does not fill the memory."""
    with (tmp_path / "file").open("wb") as stream:
        stream.write(MESSAGE)
        stream.truncate(mails.MAX_MAIL + MB)
    (found,) = collect([tmp_path], tmp_path)
    assert refusals([found]) == ["too_large"]
    with pytest.raises(OSError, match="too_large"):
        found.read()


def test_a_zip_in_a_zip_is_taken_out_once_for_many_members(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Thirty members cost thirty-one inflations, and not two each."""
    inside = {f"{number}.xlsx": b"%d" % number for number in range(30)}
    found = collected(tmp_path, plain_zip({"late.zip": plain_zip(inside)}))
    asked: list[str] = []

    def counted(data: bytes, member: Member, most: int) -> bytes:
        asked.append(member.name)
        return inflate(data, member, most)

    monkeypatch.setattr("workbook_tools.returns.candidate.inflate", counted)
    assert [one.read() for one in fetched(found)] == list(inside.values())
    assert len(asked) == 31


def test_a_mail_is_had_once_for_all_its_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """However many files are attached, the mail is looked over once."""
    found = collected(tmp_path, multipart(*(attached(b"%d" % number, f"{number}.xlsx") for number in range(30))))
    mails._take_apart.cache_clear()
    looked: list[int] = []
    check = mails._check_effort

    def counted(data: bytes) -> None:
        looked.append(len(data))
        check(data)

    monkeypatch.setattr(mails, "_check_effort", counted)
    assert [one.read() for one in fetched(found)] == [b"%d" % number for number in range(30)]
    assert len(looked) == 1


def test_a_name_longer_than_any_path_is_cut_before_it_is_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two thousand names of 32,000 folders took twenty seconds to show."""
    lengths: list[int] = []

    def measured(name: str) -> str:
        lengths.append(len(name))
        return shown_path(name)

    monkeypatch.setattr(unpack, "shown_path", measured)
    (found,) = collected(tmp_path, plain_zip({"a/" * 30_000 + "book.xlsx": b"x"}))
    assert found.origin.endswith("book.xlsx")
    assert max(lengths) <= 4_096


def test_a_zip_that_grew_while_it_was_collected_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its reason is the bound it passed, in words and not by the name of a rule."""
    monkeypatch.setattr(unpack, "MAX_INFLATED", 50)
    path = tmp_path / "a.zip"
    path.write_bytes(plain_zip({"a.xlsx": bytes(200)}))
    (found,) = unpack.candidates_in(path, "a.zip", "", 10)
    assert found.refusal == Refusal("too_large", "1 MB")


def test_a_hidden_folder_that_may_not_be_read_hides_no_file_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Systems keep such folders on drives that travel."""
    (tmp_path / ".closed").mkdir()
    (tmp_path / "a.xlsx").write_bytes(b"PK\x03\x04")
    is_dir = Path.is_dir

    def closed(path: Path) -> bool:
        if path.parent.name == ".closed":
            raise PermissionError(13, "Permission denied")
        return is_dir(path)

    monkeypatch.setattr(Path, "is_dir", closed)
    assert [one.origin for one in collect([tmp_path], tmp_path)] == ["a.xlsx"]
