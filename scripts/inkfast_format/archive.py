"""Reads the members of a package: a tar archive or an unpacked folder."""

import os
import re

from . import files
from .findings import FormatError

BLOCK = 512


PLAIN = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]{0,99}")


def is_safe_name(name):
    """Whether a member may bear this name (FORMAT.md section 8): written into a folder, it stays in it."""
    parts = name.split("/")
    return len(name.encode()) <= 255 and len(parts) <= 4 and all(map(PLAIN.fullmatch, parts))


def _octal(field):
    text = field.rstrip(b" \0")
    if not text or any(c not in b"01234567" for c in text):
        raise FormatError("a tar header with a number that is not octal")
    return int(text, 8)


def _text(field):
    raw, _, rest = field.partition(b"\0")
    if rest.strip(b"\0"):
        raise FormatError("a tar header with bytes behind the end of a name")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        raise FormatError("a tar header with a name that is not UTF-8") from None


def _header(block):
    """(name, size, whether it is a plain file) of a header block: POSIX ustar as FORMAT.md asks, or
    what a common tar program writes when somebody packs an unpacked package again."""
    if block[257:262] != b"ustar":
        raise FormatError("a tar header that is not ustar")
    if sum(block[:148]) + sum(block[156:]) + 8 * 32 != _octal(block[148:156]):
        raise FormatError("a tar header whose checksum is wrong")
    name, prefix = _text(block[:100]), ""
    if block[257:265] == b"ustar\x0000":
        prefix = _text(block[345:500])
    plain = block[156:157] in (b"0", b"\0")
    return (f"{prefix}/{name}" if prefix else name), _octal(block[124:136]), plain


def read_tar(data):
    """The members of a tar archive in order, as (name, bytes); bytes are None for what is no plain
    file. What stands behind the end, or pads a member, is no part of the package."""
    members, at = [], 0
    while at < len(data):
        block = data[at : at + BLOCK]
        if len(block) < BLOCK:
            raise FormatError("a tar archive that ends inside a header")
        if block == bytes(BLOCK):
            break
        name, size, plain = _header(block)
        start, end = at + BLOCK, at + BLOCK + size
        at = end + -size % BLOCK
        if end > len(data):
            raise FormatError("a tar member that is cut")
        members.append((name, data[start:end] if plain else None))
    return members


def read_folder(root):
    """The files of an unpacked package as (name, bytes), sorted by name; bytes are None for what is
    neither a file nor a folder."""
    members, waiting = [], [""]
    while waiting:
        folder = waiting.pop()
        for name in files.names_in(os.path.join(root, folder)):
            inner = f"{folder}/{name}" if folder else name
            path = os.path.join(root, inner)
            kind = files.kind_of(path)
            if kind == "folder":
                waiting.append(inner)
            elif kind == "file":
                members.append((inner, files.read(path)))
            else:
                members.append((inner, None))
    return sorted(members, key=lambda member: member[0])
