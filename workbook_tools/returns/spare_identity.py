"""Who a book is when its identity block is lost: the token stands in two more places, which survive what cells do not.

No single place survives every program that may save a book again: cells can be cleared with their sheet, names dropped,
properties written anew.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.names import TOKEN_NAME, sheet_name
from workbook_tools.contract.package import Package
from workbook_tools.contract.values import Value
from workbook_tools.contract.words import languages, words_for
from workbook_tools.contract.zip_directory import UnfitZipError

_NAME = re.compile(
    rb"<(?:[\w.-]{1,30}:)?definedName\s(?:[^<>]*\s)?name=[\"']%b[\"'][^<>]*>([^<]{1,200})<" % TOKEN_NAME.encode()
)
_TITLE = re.compile(rb"<(?:[\w.-]{1,30}:)?title[^<>]*>([^<]{1,1000})<")
_TOKEN = re.compile(r"[0-9a-f]{32}")


def spare_identity(package: Package, sheets: Iterable[str]) -> dict[str, Value]:
    """The token as the workbook-level name, else the core title, has it; {} when neither does.

    With it the language, where the names of the sheets that came back (`sheets`) are those of one language only.
    """
    token = _token(package, f"{package.workbook_folder}workbook.xml", _NAME)
    token = token or _token(package, "docprops/core.xml", _TITLE)
    if not token:
        return {}
    language = _language(frozenset(sheets))
    return {"token": token, "language": language} if language else {"token": token}


def _token(package: Package, part: str, where: re.Pattern[bytes]) -> str:
    """The one token in the text that a pattern finds in a part, or ""."""
    try:
        found = where.search(package.read(part))
    except UnfitZipError:
        return ""
    tokens = set(_TOKEN.findall(html.unescape(found[1].decode("utf-8", "replace")))) if found else set()
    return tokens.pop() if len(tokens) == 1 else ""


def _language(sheets: frozenset[str]) -> str:
    forms = [form.key for form in default_contract().field_book.sheets if form.visibility == "visible"]
    speaking = [
        code
        for code in languages()
        if sheets.intersection(sheet_name(words_for(code)(f"field_book.sheets.{key}")) for key in forms)
    ]
    return speaking[0] if len(speaking) == 1 else ""
