"""Collecting: every file that came back is found by what it holds, once, in order, with its sender and date."""

import datetime as dt
import os
import pickle
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.faults.hostile import HOSTILE
from tests.faults.packages import MB, entry, made, pack, repeated
from tests.faults.strangers import PHOTO, plain_zip
from tests.returns.mails import FROM, HTML, SENT, TEXT, XLSX, attached, base64_lines, inner, multipart, part
from workbook_tools.contract.guard import REFUSALS, Refusal
from workbook_tools.returns import unpack
from workbook_tools.returns.collect import Candidate, collect

BOOK = made()
OTHER = made({"xl/styles.xml": b"<styleSheet/>"})
PNG = b"\x89PNG\r\n\x1a\n"
WHEN = dt.datetime(2025, 3, 4, 5, 6, 7, tzinfo=dt.UTC)


def put(folder: Path, name: str, data: bytes) -> Path:
    """A file, last changed at `WHEN`."""
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    os.utime(path, (WHEN.timestamp(),) * 2)
    return path


def found(folder: Path, *paths: Path) -> list[Candidate]:
    """What is collected."""
    return list(collect(paths or [folder], folder))


def rows(folder: Path, *paths: Path) -> list[tuple[str, str, str]]:
    """(origin, kind, rule of the refusal) of what is collected."""
    return [(one.origin, one.kind, one.refusal.rule if one.refusal else "") for one in found(folder, *paths)]


def one(folder: Path, data: bytes, name: str = "mail") -> Candidate:
    """The only candidate a single file gives."""
    put(folder, name, data)
    (candidate,) = found(folder)
    return candidate


# -- folders


def test_folders_are_gone_through_in_order(tmp_path):
    """Files come by name, folder by folder, with their path from the program folder and their time in UTC."""
    put(tmp_path, "returns/b.xlsx", BOOK)
    put(tmp_path, "returns/a/z.xlsx", BOOK)
    put(tmp_path, "returns/c", OTHER)
    candidates = found(tmp_path)
    assert [one.origin for one in candidates] == ["returns/a/z.xlsx", "returns/b.xlsx", "returns/c"]
    assert {one.received for one in candidates} == {"2025-03-04T05:06:07+00:00"}
    assert [one.read() for one in candidates] == [BOOK, BOOK, OTHER]


def test_the_program_folder_itself_can_be_gone_through(tmp_path):
    """Paths are told from the program folder on, whatever is named."""
    put(tmp_path, "returns/b.xlsx", BOOK)
    assert [origin for origin, *_ in rows(tmp_path, tmp_path)] == ["returns/b.xlsx"]


def test_a_file_under_two_paths_is_found_once(tmp_path):
    """Naming a folder and a file in it gives the file once."""
    path = put(tmp_path, "returns/a.xlsx", BOOK)
    assert [origin for origin, *_ in rows(tmp_path, path, tmp_path / "returns", path)] == ["returns/a.xlsx"]


def test_a_file_elsewhere_keeps_its_own_path(tmp_path):
    """What lies outside the program folder is shown with its whole path."""
    path = put(tmp_path / "mail box", "a.xlsx", BOOK)
    (candidate,) = collect([path], tmp_path / "program")
    assert candidate.origin == path.resolve().as_posix()


@pytest.mark.parametrize(
    "name",
    [
        *("~$book.xlsx", ".~lock.book.xlsx#", ".DS_Store", "Thumbs.db", "desktop.ini", "Inbox.msf"),
        *("._book.xlsx", "__MACOSX/._book.xlsx", ".hidden/book.txt"),
    ],
)
def test_what_systems_leave_behind_is_passed_over(tmp_path, name):
    """Lock files, thumbnails and hidden files are no files that came back."""
    put(tmp_path, name, b"\x05Kim Reed" + bytes(150))
    assert rows(tmp_path) == []


def test_a_hidden_file_that_is_a_workbook_is_found(tmp_path):
    """An attachment saved under an empty name is a hidden file, and still a return."""
    put(tmp_path, ".xlsx", BOOK)
    assert rows(tmp_path) == [(".xlsx", "workbook", "")]


def test_the_kind_is_told_by_content_whatever_the_name(tmp_path):
    """Workbooks under any name are workbooks, pictures are photos, all else is accounted for with a reason."""
    put(tmp_path, "1 return.jpg", BOOK)
    put(tmp_path, "2 photo.xlsx", PHOTO)
    put(tmp_path, "3 photo.heic", b"\x00\x00\x00\x18ftypheic" + bytes(30))
    put(tmp_path, "4 export.csv", b"position,label\nA-1-1,x\n")
    put(tmp_path, "5 note.txt", b"See you\n")
    put(tmp_path, "6 letter.pdf", b"%PDF-1.4\n")
    put(tmp_path, "7 page.xls", b"<html><table></table></html>")
    put(tmp_path, "8 empty.xlsx", b"")
    put(tmp_path, "9 noise.xlsx", bytes(range(256)))
    assert [(kind, rule) for _, kind, rule in rows(tmp_path)] == [
        ("workbook", ""),
        ("photo", ""),
        ("photo", ""),
        ("workbook", ""),
        ("other", "not_a_workbook"),
        ("other", "not_a_workbook"),
        ("workbook", ""),
        ("workbook", ""),
        ("workbook", ""),
    ]


@pytest.mark.skipif(sys.platform == "win32", reason="making links asks for rights on Windows")
def test_a_link_that_leads_outside_is_not_followed_but_accounted_for(tmp_path):
    """Links to files and folders elsewhere give a reason; links to what is collected anyway give nothing."""
    outside = put(tmp_path / "outside", "secret.xlsx", BOOK).parent
    put(tmp_path, "in/a.xlsx", BOOK)
    (tmp_path / "in/file").symlink_to(outside / "secret.xlsx")
    (tmp_path / "in/folder").symlink_to(outside)
    (tmp_path / "in/loop").symlink_to(tmp_path / "in")
    (tmp_path / "in/again").symlink_to(tmp_path / "in/a.xlsx")
    assert rows(tmp_path, tmp_path / "in") == [
        ("in/a.xlsx", "workbook", ""),
        ("in/file", "other", "leads_outside"),
        ("in/folder", "other", "leads_outside"),
    ]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes on this system")
def test_a_pipe_is_not_waited_for(tmp_path):
    """What is neither file nor folder is a candidate with a reason, and is never opened."""
    os.mkfifo(tmp_path / "pipe.xlsx")
    assert rows(tmp_path) == [("pipe.xlsx", "other", "unreadable")]


def test_a_path_that_is_not_there_is_accounted_for(tmp_path):
    """A path that does not exist gives a candidate that says so."""
    (candidate,) = collect([tmp_path / "gone.xlsx"], tmp_path)
    assert candidate.refusal == Refusal("unreadable", "No such file or directory")
    with pytest.raises(OSError, match="unreadable"):
        candidate.read()


def test_a_file_too_large_to_read_is_not_read(tmp_path):
    """A workbook beyond the bound is refused where it is found; reading it raises instead of filling the memory."""
    path = put(tmp_path, "large.xlsx", BOOK)
    with path.open("ab") as stream:
        stream.truncate(40 * MB)
    (candidate,) = found(tmp_path)
    assert candidate.refusal == Refusal("too_large", "40 MB")
    with pytest.raises(OSError, match="too_large"):
        candidate.read()


def test_odd_names_are_shown_without_harm(tmp_path):
    """Direction marks and our own arrow are taken out of what is shown; the file itself is read all the same."""
    put(tmp_path, "a\u202exslx → b.xlsx", BOOK)
    (candidate,) = found(tmp_path)
    assert candidate.origin == "axslx > b.xlsx"
    assert candidate.read() == BOOK


# -- zips


def test_zips_are_opened_zips_in_zips_too(tmp_path):
    """Members are addressed by the zip and their name, whatever the name says; each gives its own bytes."""
    nested = plain_zip({"late.zip": plain_zip({"x": OTHER}), "notes.txt": b"hello"})
    put(tmp_path, "all.zip", plain_zip({"../../up.xlsx": BOOK, "photos/1.jpg": PHOTO, "more.dat": nested}))
    candidates = found(tmp_path)
    assert [(one.origin, one.kind) for one in candidates] == [
        ("all.zip → up.xlsx", "workbook"),
        ("all.zip → photos/1.jpg", "photo"),
        ("all.zip → more.dat → late.zip → x", "workbook"),
        ("all.zip → more.dat → notes.txt", "other"),
    ]
    assert [one.read() for one in candidates] == [BOOK, PHOTO, OTHER, b"hello"]


def test_two_members_of_one_name_have_two_origins(tmp_path):
    """Origins are unique, so that no file hides behind another one."""
    put(tmp_path, "all.zip", pack([entry("book.xlsx", BOOK), entry("book.xlsx", OTHER)]))
    candidates = found(tmp_path)
    assert [one.origin for one in candidates] == ["all.zip → book.xlsx", "all.zip → book.xlsx (2)"]
    assert [one.read() for one in candidates] == [BOOK, OTHER]


def test_what_a_zip_carries_for_its_system_is_passed_over(tmp_path):
    """Copies of names and icons that a system packs along are no files that came back."""
    put(tmp_path, "a.zip", plain_zip({"a/b.xlsx": BOOK, "__MACOSX/a/._b.xlsx": b"\0\5\x16\7", "a/.DS_Store": b"Bud1"}))
    assert rows(tmp_path) == [("a.zip → a/b.xlsx", "workbook", "")]


@pytest.mark.parametrize("name", ["open document", "tablet spreadsheet", "word document", "binary workbook"])
def test_a_document_that_is_a_zip_inside_is_one_file(tmp_path, name):
    """Documents of other programs are left to the guard as a whole."""
    put(tmp_path, "x", HOSTILE[name][0]())
    assert rows(tmp_path) == [("x", "workbook", "")]


def deep(levels: int) -> bytes:
    """A workbook in so many zips."""
    data = BOOK
    for _ in range(levels):
        data = plain_zip({"z": data})
    return data


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        pytest.param(lambda: deep(3), [("a → z → z → z", "workbook", "")], id="as deep as allowed"),
        pytest.param(lambda: deep(4), [("a → z → z → z", "other", "archive_too_deep")], id="too deep"),
        pytest.param(lambda: plain_zip({}), [("a", "other", "archive_empty")], id="empty"),
        pytest.param(lambda: plain_zip({".DS_Store": b"x"}), [("a", "other", "archive_empty")], id="only system files"),
        pytest.param(lambda: plain_zip({"x": BOOK})[:-30], [("a", "workbook", "")], id="cut short, for the guard"),
    ],
)
def test_zips_are_bounded_in_depth_and_never_vanish(tmp_path, data, expected):
    """Each bound gives one candidate with its reason; nothing that was found before it is lost."""
    put(tmp_path, "a", data())
    assert rows(tmp_path) == expected


def test_zips_are_bounded_in_members(tmp_path):
    """The members up to the bound are taken, the rest is one candidate with the reason."""
    put(tmp_path, "a", pack(entry(f"{n}.jpg", PHOTO) for n in range(unpack.MAX_MEMBERS + 50)))
    *photos, last = rows(tmp_path)
    assert len(photos) == unpack.MAX_MEMBERS
    assert last == ("a", "other", "archive_too_many")


def test_zips_are_bounded_in_size(tmp_path):
    """A member beyond its bound is refused alone; what goes beyond the bound of all ends the unpacking."""
    one = repeated(b"", b" " * 1024, 60 * 1024, b"")
    large = repeated(b"", b" " * 1024, 70 * 1024, b"")
    names = [b"0", b"1", b"2", b"3"]
    bombs = [replace(large, name=b"large"), *(replace(one, name=name) for name in names)]
    put(tmp_path, "a", pack([entry("first.xlsx", BOOK), *bombs]))
    origins = rows(tmp_path)
    assert origins[:2] == [("a → first.xlsx", "workbook", ""), ("a → large", "other", "archive_too_large")]
    assert origins[-1] == ("a", "other", "archive_too_large")


def test_locked_and_damaged_members_have_reasons(tmp_path):
    """A password, an unknown way of packing and damage each give one candidate; sound members are found beside."""
    locked = entry("locked.xlsx", BOOK)
    other = replace(locked, name=b"other.xlsx", method=14)
    put(tmp_path, "a", pack([replace(locked, flags=1), other, entry("sound.xlsx", BOOK)]))
    assert rows(tmp_path) == [
        ("a", "other", "encrypted"),
        ("a → other.xlsx", "other", "archive_other"),
        ("a → sound.xlsx", "workbook", ""),
    ]


def test_a_member_damaged_within_raises_only_when_read(tmp_path):
    """Its bytes are wanted by the worker alone, who is told the reason."""
    sound = entry("a.xlsx", BOOK)
    put(tmp_path, "a", pack([replace(sound, checksum=sound.checksum ^ 1)]))
    (candidate,) = found(tmp_path)
    with pytest.raises(OSError, match="damaged_part"):
        candidate.read()


# -- mails

MAILS = {
    "attachment": multipart(TEXT, attached(BOOK, "book.xlsx")),
    "with line ends of the net": multipart(TEXT, attached(BOOK, "book.xlsx")).replace(b"\n", b"\r\n"),
    "without a kind of its own": multipart(TEXT, attached(BOOK, "book.xlsx", "application/octet-stream")),
    "inline, between texts": multipart(
        TEXT, part(BOOK, f"Content-Type: {XLSX}; x-unix-mode=0644; name=book.xlsx", "Content-Disposition: inline"), TEXT
    ),
    "name in encoded words": multipart(
        TEXT, part(BOOK, f"Content-Type: {XLSX}", 'Content-Disposition: attachment; filename="=?UTF-8?Q?book=2Exlsx?="')
    ),
    "name in pieces": multipart(
        TEXT,
        part(
            BOOK, f"Content-Type: {XLSX}", "Content-Disposition: attachment; filename*0*=utf-8''bo; filename*1=ok.xlsx"
        ),
    ),
    "no texts at all": FROM + attached(BOOK, "book.xlsx"),
    "with a logo": multipart(
        inner(
            HTML, part(PNG + bytes(900), "Content-Type: image/png", "Content-ID: <logo>"), kind="related", boundary="b2"
        ),
        attached(BOOK, "book.xlsx"),
    ),
    "texts in two forms": multipart(
        inner(TEXT, HTML, kind="alternative", boundary="b2"),
        attached(BOOK, "book.xlsx"),
        b"Content-Type: text/html\n\n",
    ),
    "a signature by the program": multipart(
        attached(BOOK, "book.xlsx"), b'Content-Type: application/pkcs7-signature; name="smime.p7s"\n\nx'
    ),
    "an empty text behind it": multipart(
        attached(BOOK, "book.xlsx"), b'Content-Type: text/plain; name="ATT00001.txt"\n\nSent from my tablet\n'
    ),
    "head with bytes of no known code": multipart(
        attached(BOOK, "book.xlsx"), head=FROM + b"Subject: Gr\xfc\xdfe\nX-Mailer: \xff\nReceived: x\n"
    ),
    "base64 with stray signs": multipart(attached(BOOK, "book.xlsx").replace(b"\n\n", b"\n\n \n", 1)),
    "no closing line": multipart(attached(BOOK, "book.xlsx")).removesuffix(b"--b1--\n"),
    "after an mbox line": b"From kim@example.org Tue Mar  4 21:40:05 2025\n" + multipart(attached(BOOK, "book.xlsx")),
    "with its length before it": b"99999     \n" + multipart(attached(BOOK, "book.xlsx")),
}


@pytest.mark.parametrize("name", MAILS)
def test_the_attachment_of_a_mail_is_found_whatever_program_wrote_it(tmp_path, name):
    """One return, with its bytes, its name, the sender's address and the mail's date in UTC; texts and logos do not
    count.
    """
    candidate = one(tmp_path, MAILS[name], "mail 1")
    assert candidate.kind == "workbook"
    assert candidate.read() == BOOK
    assert candidate.received == SENT
    assert candidate.sender == "kim@example.org"
    assert candidate.origin.startswith("mail 1 → ")
    assert candidate.origin.endswith(
        "attachment 1" if "inline" in name and "book" not in candidate.origin else "book.xlsx"
    )


def test_several_attachments_are_numbered(tmp_path):
    """The step says which attachment of the mail it is, counted from 1 without the texts."""
    zipped = attached(plain_zip({"b.xlsx": OTHER}), "two.zip", "application/zip")
    put(tmp_path, "mail.eml", multipart(TEXT, attached(BOOK, "a.xlsx"), zipped, attached(PHOTO, "p.jpg", "image/jpeg")))
    candidates = found(tmp_path)
    assert [(one.origin, one.kind) for one in candidates] == [
        ("mail.eml → attachment 1 → a.xlsx", "workbook"),
        ("mail.eml → attachment 2 → two.zip → b.xlsx", "workbook"),
        ("mail.eml → attachment 3 → p.jpg", "photo"),
    ]
    assert [one.read() for one in candidates] == [BOOK, OTHER, PHOTO]
    assert {one.received for one in candidates} == {SENT}


def test_a_large_picture_in_the_text_is_a_photo(tmp_path):
    """A picture that was pasted into the mail is a photo when it is too large for a logo."""
    photo = part(PHOTO + bytes(90_000), "Content-Type: image/jpeg", "Content-ID: <p>")
    candidate = one(tmp_path, multipart(HTML, photo, kind="related"))
    assert candidate.kind == "photo"


def test_a_forwarded_mail_keeps_who_sent_it_first(tmp_path):
    """Sender and date are those of the innermost mail."""
    forwarded = b"From: Boss <boss@example.org>\nDate: Wed, 5 Mar 2025 08:00:00 +0000\n"
    original = multipart(TEXT, attached(BOOK, "book.xlsx"), boundary="b2")
    candidate = one(tmp_path, multipart(TEXT, b"Content-Type: message/rfc822\n\n" + original, head=forwarded))
    assert candidate.origin == "mail → attachment 1 → attachment 1 → book.xlsx"
    assert (candidate.sender, candidate.received) == ("kim@example.org", SENT)
    assert candidate.read() == BOOK


def test_a_mail_attached_as_a_file_is_opened_too(tmp_path):
    """A mail saved and attached, or zipped, is a mail."""
    saved = multipart(TEXT, attached(BOOK, "book.xlsx"), boundary="b2")
    data = plain_zip({"saved.eml": multipart(attached(saved, "saved.eml", "application/octet-stream"))})
    candidate = one(tmp_path, data, "a.zip")
    assert candidate.origin == "a.zip → saved.eml → attachment 1 → saved.eml → attachment 1 → book.xlsx"
    assert candidate.read() == BOOK


@pytest.mark.parametrize(
    ("data", "rule"),
    [
        pytest.param(FROM + b"\nI will send it tomorrow.\n", "nothing_attached", id="no attachment"),
        pytest.param(multipart(TEXT, HTML, kind="alternative"), "nothing_attached", id="only texts"),
        pytest.param(
            multipart(TEXT, attached(b"\x78\x9f\x3e\x22" + bytes(9), "winmail.dat", "application/ms-tnef")),
            "tnef",
            id="winmail.dat",
        ),
        pytest.param(multipart(part(b"0\x80", "Content-Type: application/pkcs7-mime")), "mail_encrypted", id="locked"),
        pytest.param(
            multipart(
                b"Content-Type: application/pgp-encrypted\n\nVersion: 1\n",
                b"Content-Type: application/octet-stream\n\n-----BEGIN PGP MESSAGE-----\nx\n",
                kind="encrypted",
            ),
            "mail_encrypted",
            id="locked otherwise",
        ),
        pytest.param(multipart(TEXT).replace(b"--b1", b"--b9"), "mail_unreadable", id="parts not where it says"),
        pytest.param(FROM + b"Content-Type: " + b"x;" * 40_000 + b"\n\nx", "mail_unreadable", id="endless header"),
        pytest.param(
            multipart(attached(b"A note", "note.doc", "application/msword")), "not_a_workbook", id="other file"
        ),
    ],
)
def test_a_mail_without_a_return_says_why(tmp_path, data, rule):
    """No mail vanishes: one without a return gives one candidate with the reason, its sender and its date."""
    candidate = one(tmp_path, data)
    assert candidate.kind == "other"
    assert candidate.refusal is not None
    assert candidate.refusal.rule == rule
    if rule not in {"mail_unreadable"}:
        assert (candidate.sender, candidate.received) == ("kim@example.org", SENT)


@pytest.mark.parametrize(
    "head",
    [
        b"From: =?utf-8?q?=?= <\nDate: yesterday\n",
        b'From: "a <b@c\nDate: Tue, 99 Foo 2025 10:11:12 +9999\n',
        b"From: a@[1\nMessage-ID: <\nDate: 4 Mar 10000000000 10:11:12 +0000\n",
        b'From: ""@\nMessage-ID: [\nDate:\n',
        b"Message-ID: <1@example.org>\nFrom:\nContent-Transfer-Encoding: \xff\n",
        b"Received: from x\nSubject: =?utf-7?B?////?=\nDate: Fri, 31 Dec 9999 23:59:59 -2359\n",
    ],
)
def test_broken_headers_cost_the_sender_or_the_date_and_nothing_else(tmp_path, head):
    """The return is taken in with what can be told; the time of the file stands in for the date."""
    candidate = one(tmp_path, multipart(TEXT, attached(BOOK, "book.xlsx"), head=head))
    assert candidate.read() == BOOK
    assert candidate.received == "2025-03-04T05:06:07+00:00"
    assert candidate.sender.isprintable()


def test_the_date_of_receipt_stands_in_for_a_date_that_cannot_be_read(tmp_path):
    """Of a mail with a broken date, the newest station's date counts."""
    head = b"Received: from a by b; Wed, 5 Mar 2025 01:02:03 +0000\nFrom: k@example.org\nDate: soon\n"
    candidate = one(tmp_path, multipart(attached(BOOK, "book.xlsx"), head=head))
    assert candidate.received == "2025-03-05T01:02:03+00:00"


def test_a_file_name_from_a_mail_never_leads_anywhere(tmp_path):
    """Names are shown without the folders they would climb to and without signs that mislead."""
    name = "../../etc/\u202exslx.exe\t.xlsx"
    header = f"Content-Disposition: attachment; filename*=utf-8''{''.join(f'%{byte:02X}' for byte in name.encode())}"
    candidate = one(tmp_path, multipart(part(BOOK, f"Content-Type: {XLSX}", header)))
    assert candidate.origin == "mail → attachment 1 → etc/xslx.exe .xlsx"


# -- mailboxes

POSTMARK = b"From kim@example.org Tue Mar  4 21:40:05 2025\n"


def test_a_mailbox_is_cut_into_its_messages(tmp_path):
    """Each message is a mail of its own; a line that begins with "From " within a text cuts nothing."""
    text = b"Content-Type: text/plain\n\nHello\n\nFrom here on all is well.\nFrom 10:30 to 11:00 in 2025\n\n"
    messages = [multipart(text, attached(data, "a.xlsx")) for data in (BOOK, OTHER)]
    put(tmp_path, "Inbox", POSTMARK + messages[0] + b"\n" + POSTMARK + FROM + b"\nNo book\n\n" + POSTMARK + messages[1])
    candidates = found(tmp_path)
    assert [(one.origin, one.refusal.rule if one.refusal else "") for one in candidates] == [
        ("Inbox → message 1 → attachment 1 → a.xlsx", ""),
        ("Inbox → message 2", "nothing_attached"),
        ("Inbox → message 3 → attachment 1 → a.xlsx", ""),
    ]
    assert [candidates[0].read(), candidates[2].read()] == [BOOK, OTHER]


def test_a_mailbox_in_a_zip_is_cut_too(tmp_path):
    """A mailbox is found wherever it lies."""
    box = POSTMARK + multipart(attached(BOOK, "a.xlsx")) + b"\n" + POSTMARK + multipart(attached(OTHER, "a.xlsx"))
    put(tmp_path, "a.zip", plain_zip({"box": box}))
    assert [one.read() for one in found(tmp_path)] == [BOOK, OTHER]


def test_a_maildir_is_read_but_for_what_is_still_arriving(tmp_path):
    """Mails lie in cur and new under names without an ending; tmp and the program's own lists are passed over."""
    for folder, name in (("cur", "1.a.host,S"), ("new", "2.b.host"), ("tmp", "3.c.host")):
        put(tmp_path, f"box/{folder}/{name}", multipart(attached(BOOK, "a.xlsx")))
        put(tmp_path, f"box/.Returns/{folder}/{name}", multipart(attached(OTHER, "a.xlsx")))
    put(tmp_path, "box/dovecot-uidlist", b"3 V1 N1\n")
    assert [origin for origin, *_ in rows(tmp_path)] == [
        f"box/{place} → attachment 1 → a.xlsx"
        for place in (".Returns/cur/1.a.host,S", ".Returns/new/2.b.host", "cur/1.a.host,S", "new/2.b.host")
    ]


# -- promises about everything


@pytest.mark.parametrize("name", HOSTILE)
def test_every_hostile_file_is_one_candidate_or_says_why_not(tmp_path, name):
    """Collecting a hostile file raises nothing and never loses it."""
    put(tmp_path, "returns/x.xlsx", HOSTILE[name][0]())
    candidates = found(tmp_path)
    assert candidates
    for candidate in candidates:
        assert candidate.origin.startswith("returns/x.xlsx")
        assert (candidate.kind == "other") <= (candidate.refusal is not None)
        assert candidate.refusal is None or candidate.refusal.rule in REFUSALS


@given(st.data())
@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_damage_raises_or_loses_a_file(tmp_path, data):
    """Zips, mails and mailboxes with bytes changed or cut out give candidates, each of which can be read or refuses."""
    sources = [*MAILS.values(), plain_zip({"a.xlsx": BOOK, "b.zip": plain_zip({"c": OTHER})})]
    source = data.draw(st.sampled_from(sources))
    start, end = sorted(data.draw(st.tuples(*(st.integers(0, min(len(source), 2_000)),) * 2)))
    put(tmp_path, "x.xlsx", source[:start] + data.draw(st.binary(max_size=40)) + source[end:])
    candidates = found(tmp_path)
    assert candidates
    for candidate in candidates:
        try:
            assert isinstance(candidate.read(), bytes)
        except OSError as slip:
            assert slip.strerror


def test_candidates_travel_to_other_processes(tmp_path):
    """A candidate pickles small, and reads the same bytes there; so does the error that says why it cannot."""
    put(tmp_path, "a.zip", plain_zip({"m.eml": MAILS["attachment"]}))
    (candidate,) = found(tmp_path)
    carried = pickle.dumps(candidate)
    assert len(carried) < 2_000
    assert pickle.loads(carried).read() == BOOK


def test_collecting_twice_gives_the_same(tmp_path):
    """The same files give the same candidates in the same order."""
    put(tmp_path, "a.eml", MAILS["with a logo"])
    put(tmp_path, "b.zip", plain_zip({"1": BOOK, "2": OTHER}))
    assert found(tmp_path) == found(tmp_path)


def test_a_book_carried_as_quoted_text_is_decoded(tmp_path):
    """Bytes that came quoted instead of in base64 are the same bytes."""
    quoted = "".join(f"={byte:02X}" + ("=\n" if n % 24 == 23 else "") for n, byte in enumerate(BOOK)).encode()
    head = b"Content-Type: application/octet-stream; name=a.xlsx\nContent-Transfer-Encoding: "
    assert one(tmp_path, multipart(head + b"quoted-printable\n\n" + quoted)).read() == BOOK


def test_a_book_as_plain_base64_text_is_no_workbook(tmp_path):
    """A mail whose parts lost their headers is not guessed at."""
    candidate = one(tmp_path, FROM + b"\n" + base64_lines(BOOK))
    assert candidate.refusal == Refusal("nothing_attached", "")
