"""The parts of a field book of ours: taken out of the .xlsx, found by their sheets' names, put back."""

from __future__ import annotations

import html
import re
import zipfile
from collections.abc import Mapping
from io import BytesIO

_SHEET = re.compile(r'<sheet name="([^"]*)"[^>]*r:id="([^"]*)"')
_TARGET = re.compile(r'Id="([^"]*)"[^>]*Target="([^"]*)"')
_ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)


def unpacked(book: bytes) -> dict[str, bytes]:
    """Every part by its name in the ZIP file, in its order."""
    with zipfile.ZipFile(BytesIO(book)) as archive:
        return {info.filename: archive.read(info) for info in archive.infolist()}


def sheet_parts(parts: Mapping[str, bytes]) -> dict[str, str]:
    """Sheet name → the part that holds it, in the order of the sheets."""
    targets = dict(_TARGET.findall(parts["xl/_rels/workbook.xml.rels"].decode()))
    sheets = _SHEET.findall(parts["xl/workbook.xml"].decode())
    return {html.unescape(name): f"xl/{targets[one]}" for name, one in sheets}


def packed(parts: Mapping[str, bytes]) -> bytes:
    """The .xlsx of some parts; the same parts give the same bytes."""
    buffer = BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            info = zipfile.ZipInfo(name, _ZIP_EPOCH)
            info.compress_type = zipfile.ZIP_STORED if name.startswith("xl/media/") else zipfile.ZIP_DEFLATED
            archive.writestr(info, data)
    return buffer.getvalue()
