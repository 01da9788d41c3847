"""Mail drafts: one a merchandiser, opened as not yet sent, with the books attached, whatever the names are."""

from __future__ import annotations

import datetime as dt
import email
import mailbox
from email import policy
from email.header import decode_header, make_header
from email.message import EmailMessage
from email.utils import getaddresses
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from tests.small_program import CONTENT, WORDS
from workbook_tools.cli import main
from workbook_tools.errors import FolderError
from workbook_tools.field_book.issue import Issued, Order, issue
from workbook_tools.field_book.letters import letters, write_letters
from workbook_tools.field_book.mail import Attachment, Draft, addresses_in, one_line, within_limit
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.setup_book import setup_workbook

PEOPLE = [
    {"merchandiser": "Kim", "name": "Kim Ångström, desk 2", "email": "kim@example.com"},
    {"merchandiser": "Lee", "name": "Lee"},
]
NOW = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)


def read(data: bytes) -> EmailMessage:
    """A draft as a mail program reads it."""
    message = email.message_from_bytes(data, policy=policy.default)
    assert isinstance(message, EmailMessage)
    assert [part.defects for part in message.walk()] == [[] for _ in message.walk()]
    return message


def names(message: EmailMessage) -> list[str | None]:
    """The names of a draft's attachments."""
    return [part.get_filename() for part in message.iter_attachments()]


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> tuple[ProgramFolder, Issued]:
    """The small program issued: Kim has stores 001 and 002, Lee, without a mail address, has 003."""
    folder = ProgramFolder(tmp_path_factory.mktemp("small"))
    folder.setup.write_bytes(setup_workbook(WORDS, {**CONTENT, "merchandisers": PEOPLE}))
    return folder, issue(folder, Order(now=NOW), WORDS)


def drafted(small: tuple[ProgramFolder, Issued], target: Path, limit: int = 10**9) -> dict[str, EmailMessage]:
    """The drafts of the small program by file name."""
    folder, issued = small
    made = letters(folder, issued.program, issued.books, "issue", WORDS)
    write_letters(target, issued.program, made, WORDS, limit)
    return {path.name: read(path.read_bytes()) for path in sorted(target.iterdir())}


def test_everyone_gets_one_draft_with_the_books_of_their_stores(
    small: tuple[ProgramFolder, Issued], tmp_path: Path
) -> None:
    """It opens as not yet sent, goes to the address in the setup, and its attachments are the books, byte for byte."""
    drafts = drafted(small, tmp_path)
    assert list(drafts) == ["SMALL Kim books.eml", "SMALL Lee books.eml"]
    kim = drafts["SMALL Kim books.eml"]
    assert kim["X-Unsent"] == "1"
    assert (kim["Date"], kim["Message-ID"], kim["From"]) == (None, None, None)
    (to,) = kim["To"].addresses
    assert (to.display_name, to.addr_spec) == ("Kim Ångström, desk 2", "kim@example.com")
    assert names(kim) == ["SMALL 001.xlsx", "SMALL 002.xlsx"]
    attached = [part.get_content() for part in kim.iter_attachments()]
    assert attached == [(small[0].issued / name).read_bytes() for name in ("SMALL 001.xlsx", "SMALL 002.xlsx")]
    assert names(drafts["SMALL Lee books.eml"]) == ["SMALL 003.xlsx"]


def test_the_text_names_the_stores_the_window_and_whom_to_call(
    small: tuple[ProgramFolder, Issued], tmp_path: Path
) -> None:
    """Everything a merchandiser has to know stands in the mail itself."""
    text = drafted(small, tmp_path)["SMALL Kim books.eml"].get_body(("plain",)).get_content()
    for told in ("001", "Hill Street", "002", "Mill Lane", "2 Mar 2026", "8 Mar 2026", "The office", "Kim Ångström"):
        assert told in text
    assert "003" not in text


def test_one_without_an_address_gets_a_draft_without_a_recipient_and_is_named(
    small: tuple[ProgramFolder, Issued], tmp_path: Path
) -> None:
    """The office fills the recipient in; the command says for whom."""
    assert drafted(small, tmp_path)["SMALL Lee books.eml"]["To"] is None
    result = CliRunner().invoke(main, ["issue", str(small[0].root), "--mail"])
    assert result.exit_code == 0
    assert "2 mail drafts are in" in result.stdout
    assert "No mail address is known for: Lee." in result.stdout
    assert sorted(path.name for path in small[0].mail.iterdir()) == ["SMALL Kim books.eml", "SMALL Lee books.eml"]


def test_books_that_are_too_large_together_are_sent_apart(small: tuple[ProgramFolder, Issued], tmp_path: Path) -> None:
    """Each draft says which of how many it is; a run that needs fewer takes the others away."""
    drafts = drafted(small, tmp_path, limit=1)
    assert list(drafts) == ["SMALL Kim books 1-2.eml", "SMALL Kim books 2-2.eml", "SMALL Lee books.eml"]
    assert [names(one) for one in drafts.values()] == [["SMALL 001.xlsx"], ["SMALL 002.xlsx"], ["SMALL 003.xlsx"]]
    assert "mail 2 of 2" in drafts["SMALL Kim books 2-2.eml"].get_body(("plain",)).get_content()
    assert list(drafted(small, tmp_path)) == ["SMALL Kim books.eml", "SMALL Lee books.eml"]


def test_the_same_books_give_the_same_bytes(small: tuple[ProgramFolder, Issued], tmp_path: Path) -> None:
    """Nothing in a draft depends on when or where it was written."""
    drafted(small, tmp_path / "one")
    drafted(small, tmp_path / "two")
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()


def test_a_shared_book_goes_to_everyone(tmp_path: Path) -> None:
    """One book, a draft a merchandiser; the text says to fill in a copy for each store, and to pick it."""
    folder = ProgramFolder(tmp_path)
    folder.setup.write_bytes(setup_workbook(WORDS, {**CONTENT, "merchandisers": PEOPLE}))
    shared = folder, issue(folder, Order(now=NOW, shared=True), WORDS)
    drafts = drafted(shared, tmp_path / "drafts")
    assert [names(one) for one in drafts.values()] == [["SMALL shared.xlsx"]] * 2
    text = drafts["SMALL Lee books.eml"].get_body(("plain",)).get_content()
    assert "Fill in a copy of it for each store:" in text
    assert "pick the store" in text
    assert "One book is for one store" not in text


def test_a_book_that_is_gone_is_one_sentence(small: tuple[ProgramFolder, Issued], tmp_path: Path) -> None:
    """The sentence names the file."""
    _, issued = small
    made = letters(ProgramFolder(tmp_path), issued.program, issued.books, "issue", WORDS)
    with pytest.raises(FolderError, match=r"SMALL 001\.xlsx cannot be read"):
        write_letters(tmp_path, issued.program, made, WORDS)


@pytest.mark.parametrize(
    ("cell", "found"),
    [
        ("", ()),
        ("kim@example.com", ("kim@example.com",)),
        ("kim@example.com; lee@example.org", ("kim@example.com", "lee@example.org")),
        ("call me", ()),
        ("kim@", ()),
        ("kim@example.com\nBcc: all@example.com", ("kim@example.com", "all@example.com")),
        ("kïm@example.com", ()),
        ("a..b@example.com", ()),
    ],
)
def test_only_addresses_are_taken_for_addresses(cell: str, found: tuple[str, ...]) -> None:
    """Whatever a cell of the setup holds, a draft can be written and nothing gets into its headers but recipients."""
    assert addresses_in(cell) == found
    headers = set(read(Draft("Kim", found, "s", "t").to_bytes()).keys())
    assert headers == {"X-Unsent", "Subject", "MIME-Version", "Content-Type"} | ({"To"} if found else set())


texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=120)


@given(name=texts, subject=texts, files=st.lists(texts.filter(one_line), max_size=3), data=st.binary(max_size=200))
def test_whatever_the_names_are_a_draft_reads_back(name: str, subject: str, files: list[str], data: bytes) -> None:
    """Names, subject and attachments come back as one line (RFC 2047, RFC 2231), and all is ASCII.

    The recipient is read by the older parser: the newer one keeps the breaks of a long name as spaces.
    """
    draft = Draft(name, ("kim@example.com",), subject, "text", tuple(Attachment(one, data) for one in files))
    written = draft.to_bytes()
    assert written.isascii()
    message = read(written)
    plain = email.message_from_bytes(written)
    ((to, address),) = getaddresses([str(plain["To"])])
    assert (str(make_header(decode_header(to))), address) == (one_line(name), "kim@example.com")
    assert message["Subject"] == one_line(subject)
    assert names(message) == [one_line(file) for file in files]
    assert [part.get_content() for part in message.iter_attachments()] == [data] * len(files)


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]) | st.just("\n"), max_size=300))
def test_the_text_reads_back(text: str) -> None:
    """Long lines, points and "From " at the start of a line, letters of every script."""
    draft = Draft("", (), "s", f"{text}\n.\nFrom me\n--=_field_books_=_\n", ())
    read_back = read(draft.to_bytes()).get_body(("plain",)).get_content()
    assert read_back.replace("\r\n", "\n") == draft.text


def test_a_mailbox_holds_drafts_as_they_are(small: tuple[ProgramFolder, Issued], tmp_path: Path) -> None:
    """Put into an mbox file and taken out again, the attachments are whole."""
    drafted(small, tmp_path / "drafts")
    box = mailbox.mbox(tmp_path / "drafts.mbox")
    for path in sorted((tmp_path / "drafts").iterdir()):
        box.add(path.read_bytes())
    box.flush()
    kept = [read(bytes(message)) for message in box]
    box.close()
    assert [names(message) for message in kept] == [["SMALL 001.xlsx", "SMALL 002.xlsx"], ["SMALL 003.xlsx"]]
    (book,) = kept[1].iter_attachments()
    assert book.get_content() == (small[0].issued / "SMALL 003.xlsx").read_bytes()


@given(st.lists(st.integers(0, 50)), st.integers(1, 60))
def test_attachments_are_shared_among_mails_in_order(sizes: list[int], limit: int) -> None:
    """Nothing is lost or moved, no mail is empty, and only one thing alone may pass the limit."""
    groups = list(within_limit(enumerate(sizes), limit))
    assert [one for group in groups for one in group] == list(range(len(sizes)))
    for group in groups:
        assert len(group) == 1 or (group and sum(sizes[one] for one in group) <= limit)


@pytest.mark.parametrize(
    "text",
    [
        "Abo actualités digitales 20 semaines d’abonnement à 24 heures, Bilan, Musée de Genève et tous les titres",
        "Константиновна ß 小明 María 小明 Преображенская-Вознесенская é",
        "de de عبدالرحمن é Александра 王",
        "Александра de Ünal و Ünal é عبدالرحمن la Łukasz Александра José",
    ],
)
def test_no_space_between_words_is_lost(text: str) -> None:
    """Long texts with letters beyond ASCII here and there, as the subject and as the name of whom it goes to.

    Read by the rules of RFC 2047 (sections 2 and 6.2): encoded words stand apart, and the space that parts two of them
    is not shown.
    """
    plain = email.message_from_bytes(Draft(text, ("kim@example.com", "lee@example.com"), text, "t").to_bytes())
    assert "?==?" not in str(plain["Subject"])
    assert str(make_header(decode_header(str(plain["Subject"])))) == text
    people = getaddresses([str(plain["To"])])
    assert [str(make_header(decode_header(name))) for name, _ in people] == [text, text]
    assert [address for _, address in people] == ["kim@example.com", "lee@example.com"]
