"""Segments: heads, frames, and finding the next frame behind damage."""

import re
from dataclasses import dataclass

from blake3 import blake3

from .findings import FormatError
from .note import lines_of, number

HEADER_LENGTH = 16
HEAD, ENTRY, CHECKPOINT = b"IFs1", b"IFe1", b"IFc1"
LIMITS = {HEAD: (16 * 1024, 0), ENTRY: (65_535, 4 * 1024 * 1024), CHECKPOINT: (16 * 1024, 0)}
# A frame that was cut while it was written ends in the zeros the segment was made of. No whole
# frame does: leaves, checkpoints and open bodies are text, and the end of an age file is a
# 16-byte tag that is all zero once in 2^128.
CUT_ZEROS = bytes(16)


@dataclass(frozen=True)
class Piece:
    """One stretch of a segment. `what` is head, entry or checkpoint (whole frames), damage (bytes
    that are no frame, with frames behind them), cut (a frame ending in zeros, nothing behind it),
    cut-header (fewer than 16 bytes of a header, nothing behind) or rest (anything else at the end)."""

    what: str
    start: int
    end: int
    first: bytes = b""
    second: bytes = b""


def read_header(data, at):
    """The extent of the frame at `at` as (marker, first length, second length), or None."""
    header = data[at : at + HEADER_LENGTH]
    limits = LIMITS.get(header[:4])
    if limits is None or len(header) < HEADER_LENGTH:
        return None
    first = int.from_bytes(header[4:8], "little")
    second = int.from_bytes(header[8:12], "little")
    if first > limits[0] or second > limits[1]:
        return None
    if at + HEADER_LENGTH + first + second > len(data):
        return None
    if blake3(header[:12]).digest()[:4] != header[12:]:
        return None
    return header[:4], first, second


def next_frame(data, at):
    """Where the next believable frame header begins, from `at` on, or None."""
    at = data.find(b"IF", at)
    while at >= 0:
        if read_header(data, at):
            return at
        at = data.find(b"IF", at + 1)
    return None


def pieces(data):
    """Cuts a segment into its pieces, in order, up to the zeros at its end."""
    used = len(data.rstrip(b"\0"))
    at = 0
    while at < used:
        header = read_header(data, at)
        if header is None:
            following = next_frame(data, at + 1)
            if following is None:
                yield _remainder(data, at, used)
                return
            yield Piece("damage", at, following)
            at = following
            continue
        marker, first, second = header
        middle = at + HEADER_LENGTH + first
        end = middle + second
        if end >= used and data[max(end - 16, at) : end] == CUT_ZEROS:
            yield Piece("cut", at, end)
            return
        what = {HEAD: "head", ENTRY: "entry", CHECKPOINT: "checkpoint"}[marker]
        yield Piece(what, at, end, data[at + HEADER_LENGTH : middle], data[middle:end])
        at = end


def _remainder(data, at, used):
    if used - at < HEADER_LENGTH and (data[at:used].startswith(b"IF") or data[at:used] == b"I"):
        return Piece("cut-header", at, used)
    return Piece("rest", at, used)


@dataclass(frozen=True)
class Head:
    """What a segment head states."""

    origin: str
    segment: int
    length: int
    first: int
    prev: str | None

    @classmethod
    def parse(cls, data):
        """Reads the six lines."""
        try:
            lines = lines_of(data)
        except UnicodeDecodeError:
            raise FormatError("a segment head that is not UTF-8") from None
        if len(lines) != 6 or lines[0] != "inkfast-segment/v1":
            raise FormatError("a segment head that is not the six lines")
        words = [line.split(" ") for line in lines[2:]]
        if any(len(w) != 2 for w in words) or [w[0] for w in words] != [
            "segment", "bytes", "first", "prev",
        ]:  # fmt: skip
            raise FormatError("a segment head with other words than segment, bytes, first, prev")
        values = [w[1] for w in words]
        if values[3] != "-" and not re.fullmatch("[0-9a-f]{64}", values[3]):
            raise FormatError("a segment head whose `prev` is no digest")
        prev = None if values[3] == "-" else values[3]
        return cls(lines[1], number(values[0]), number(values[1]), number(values[2]), prev)


_LEAF_LINE = re.compile(rb'\{"v":1,"ledger":"ledger-[0-9a-f]{32}","seq":([0-9]{1,18}),[^\n]{0,2000}')
_KIND = re.compile(rb'"kind":"([a-z0-9-]{1,60})"')
_CHART = re.compile(rb'"chart":"([0-9a-f]{32})"')


def entries_in(damaged):
    """What leaves can still be recognised in damaged bytes, to name what the damage hit. Nothing of
    it is trusted."""
    found = []
    for line in _LEAF_LINE.finditer(damaged):
        kind, chart = _KIND.search(line[0]), _CHART.search(line[0])
        found.append(
            {
                "seq": int(line[1]),
                "kind": kind[1].decode() if kind else None,
                "chart": chart[1].decode() if chart else None,
            }
        )
    return found
