"""Mails as different programs write them, put together by hand from bytes."""

import base64
import textwrap

FROM = b"From: Kim Reed <kim@example.org>\nTo: office@example.org\nDate: Tue, 4 Mar 2025 21:40:05 -0500\n"
SENT = "2025-03-05T02:40:05+00:00"
"""The date above in UTC."""
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def base64_lines(data: bytes) -> bytes:
    """Bytes as mails carry them."""
    return "\n".join(textwrap.wrap(base64.b64encode(data).decode(), 76)).encode()


def part(data: bytes, *headers: str) -> bytes:
    """One part in base64, under its headers."""
    return "\n".join((*headers, "Content-Transfer-Encoding: base64", "", "")).encode() + base64_lines(data) + b"\n"


def attached(data: bytes, name: str, kind: str = XLSX) -> bytes:
    """An attachment under a plain name."""
    return part(data, f'Content-Type: {kind}; name="{name}"', f'Content-Disposition: attachment; filename="{name}"')


def multipart(*parts: bytes, kind: str = "mixed", boundary: str = "b1", head: bytes = FROM) -> bytes:
    """Parts under one head."""
    opening = head + f'MIME-Version: 1.0\nContent-Type: multipart/{kind}; boundary="{boundary}"\n\n'.encode()
    line = f"--{boundary}".encode()
    return opening + b"".join(line + b"\n" + one.rstrip(b"\n") + b"\n" for one in parts) + line + b"--\n"


def inner(*parts: bytes, kind: str, boundary: str) -> bytes:
    """A multipart within a multipart."""
    return multipart(*parts, kind=kind, boundary=boundary, head=b"")


TEXT = b"Content-Type: text/plain; charset=utf-8\n\nAll done.\n"
HTML = b'Content-Type: text/html\n\n<p>All done.</p><img src="cid:logo">\n'
