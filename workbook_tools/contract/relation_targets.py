"""Targets of relations written with dots ("./a.xml", "../xl/a.xml") → the same targets as the reader takes them.

The packaging standard has targets resolved as relative references are (ECMA-376 part 2; RFC 3986, section 5.2.4),
dots included; the reader joins folder and target as they are written.
"""

from __future__ import annotations

import html
import re

from workbook_tools.contract.tags import tags, texts

_TARGET = re.compile(rb"(?<![^\s\"'/])Target\s*+=\s*+(?:\"[^\"]*+\"|'[^']*+')")
_DOTS = re.compile(r"(?:^|/)\.\.?/")


def resolved(folder: str, target: str) -> str:
    """A target with dots in it as a path from the package's root ("/xl/a.xml"), `folder` ("xl/") being that of the part
    that is related to it; as it is written when there are no dots in it, or when they lead out of the package.
    """
    if not _DOTS.search(target):
        return target
    path: list[str] = []
    for step in (target if target.startswith("/") else folder + target).removeprefix("/").split("/"):
        if step == ".." and not path:
            return target
        if step == "..":
            path.pop()
        elif step != ".":
            path.append(step)
    return "/" + "/".join(path)


def without_dots(xml: bytes, folder: str) -> bytes:
    """A .rels part with every target inside the package resolved; the very bytes when none has dots in it.

    Raises UnclosedTagError.
    """
    pieces, copied = [], 0
    for tag in tags(xml, b"Relationship"):
        said = texts(tag.inside)
        target = said.get("Target", "")
        if said.get("TargetMode") == "External" or (plain := resolved(folder, target)) == target:
            continue
        start = tag.end - len(tag.inside) - 1
        attribute = f'Target="{html.escape(plain)}"'.replace("\\", r"\\").encode()
        pieces += [xml[copied:start], _TARGET.sub(attribute, tag.inside)]
        copied = tag.end - 1
    return b"".join((*pieces, xml[copied:])) if pieces else xml
