"""Reads the members of a package: a tar archive (POSIX ustar, read strictly) or an unpacked folder."""

import os

from . import files
from .findings import CannotCheck, FormatError

BLOCK = 512


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
    if block[257:265] != b"ustar\x0000":
        raise FormatError("a tar header that is not POSIX ustar")
    if sum(block[:148]) + sum(block[156:]) + 8 * 32 != _octal(block[148:156]):
        raise FormatError("a tar header whose checksum is wrong")
    if block[156:157] not in (b"0", b"\0"):
        raise FormatError("a tar member that is not a plain file")
    name, prefix = _text(block[:100]), _text(block[345:500])
    return (f"{prefix}/{name}" if prefix else name), _octal(block[124:136])


def read_tar(data):
    """The members of a tar archive in order, as (name, bytes)."""
    members, at = [], 0
    while True:
        block = data[at : at + BLOCK]
        if len(block) < BLOCK:
            raise FormatError("a tar archive that ends without its two empty blocks")
        if block == bytes(BLOCK):
            if len(data) - at < 2 * BLOCK or data[at:].strip(b"\0"):
                raise FormatError("a tar archive with a wrong end or with bytes behind it")
            return members
        name, size = _header(block)
        start, end = at + BLOCK, at + BLOCK + size
        at = end + -size % BLOCK
        if at > len(data) or data[end:at].strip(b"\0"):
            raise FormatError("a tar member that is cut or not padded with zeros")
        members.append((name, data[start:end]))


def read_folder(root):
    """The files of an unpacked package as (name, bytes), sorted by name."""
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
                raise CannotCheck("the folder holds a link, a pipe or a device; a package has none")
    return sorted(members)
