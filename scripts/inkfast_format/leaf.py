"""Leaves, bodies, records, and the keys that may sign them."""

import json
import re
from dataclasses import dataclass
from datetime import date, datetime

from blake3 import blake3

from .findings import FormatError
from .note import Note, VerifierKey

LEAF_LIMIT = 65_535
FIELDS = (
    "v", "ledger", "seq", "prev", "chart", "chart_seq", "chart_prev",
    "kind", "written", "author", "body", "size", "commit",
)  # fmt: skip
ORIGIN = re.compile("ledger-[0-9a-f]{32}")
CHART_TAG = re.compile("[0-9a-f]{32}")
DIGEST = re.compile("[0-9a-f]{64}")
MOMENT = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(Z|[+-][0-9]{2}:[0-9]{2})")
BODY_MARKER = b"inkfast-body/v1\n"
AGE_MARKER = b"age-encryption.org/v1\n"
# Kinds whose bodies are stored open (FORMAT.md section 4).
OPEN_KINDS = frozenset({"keys", "file-kept", "file-removed", "chart-disposed", "earlier-ledger"})


def digest(data):
    """BLAKE3 in hex."""
    return blake3(data).hexdigest()


def _pairs(pairs):
    names = [name for name, _ in pairs]
    if len(names) != len(set(names)):
        raise FormatError("a JSON object with a name given twice")
    return dict(pairs)


def _constant(_):
    raise FormatError("JSON with a number that is none")


def read_json(data):
    """Reads one JSON object strictly: UTF-8, no name twice, no NaN."""
    try:
        value = json.loads(
            data.decode("utf-8"), object_pairs_hook=_pairs, parse_constant=_constant
        )
    except (ValueError, RecursionError):
        raise FormatError("not JSON in UTF-8") from None
    if not isinstance(value, dict):
        raise FormatError("JSON that is not an object")
    return value


def _need(held, text):
    if not held:
        raise FormatError(text)


def is_number(value):
    """A JSON integer of at most 63 bits, and not true or false."""
    return isinstance(value, int) and not isinstance(value, bool) and abs(value) < 2**63


def fits(pattern, value):
    """A string that the pattern describes from end to end."""
    return isinstance(value, str) and pattern.fullmatch(value) is not None


def _check_fields(leaf):
    _need(is_number(leaf["v"]) and leaf["v"] == 1, "`v` is not 1")
    _need(fits(ORIGIN, leaf["ledger"]), "`ledger` is not an origin")
    _need(is_number(leaf["seq"]) and leaf["seq"] >= 1, "`seq` is not a number from 1")
    _need((leaf["prev"] is None) == (leaf["seq"] == 1), "`prev` must be null in entry 1 only")
    _need(leaf["prev"] is None or fits(DIGEST, leaf["prev"]), "`prev` is not a digest")
    if leaf["chart"] is None:
        _need(leaf["chart_seq"] is None, "`chart_seq` outside any chart")
        _need(leaf["chart_prev"] is None, "`chart_prev` outside any chart")
    else:
        number, previous = leaf["chart_seq"], leaf["chart_prev"]
        _need(fits(CHART_TAG, leaf["chart"]), "`chart` is not a chart tag")
        _need(is_number(number) and number >= 1, "`chart_seq` is not a number from 1")
        _need((previous is None) == (number == 1), "`chart_prev` must be null in the first only")
        _need(previous is None or fits(DIGEST, previous), "`chart_prev` is not a digest")
    _need(isinstance(leaf["kind"], str) and leaf["kind"], "`kind` is not a word")
    _need(fits(MOMENT, leaf["written"]), "`written` is not a local time with offset")
    try:
        datetime.fromisoformat(leaf["written"])
    except ValueError:
        raise FormatError("`written` is no time that exists") from None
    _need(isinstance(leaf["author"], str) and leaf["author"], "`author` is not a staff code")
    _need(fits(DIGEST, leaf["body"]), "`body` is not a digest")
    _need(is_number(leaf["size"]) and leaf["size"] >= 0, "`size` is not a length")
    _need(fits(DIGEST, leaf["commit"]), "`commit` is not a digest")


def parse_leaf(data):
    """Reads a leaf: (fields, note). Checks its form, and that the author's line comes first."""
    _need(len(data) <= LEAF_LIMIT, "a leaf longer than 65,535 bytes")
    note = Note.parse(data)
    _need(note.text.count(b"\n") == 1, "a leaf's text must be one line")
    leaf = read_json(note.text)
    _need(tuple(leaf) == FIELDS, "a leaf must have exactly the thirteen fields, in order")
    _check_fields(leaf)
    _need(note.signatures[0].name == leaf["author"], "the first signature is not the author's")
    return leaf, note


def open_body(data):
    """Splits a plain body into (opening as 32 bytes, record bytes)."""
    _need(data.startswith(BODY_MARKER), "a body without its first line")
    rest = data[len(BODY_MARKER) :]
    opening, record = rest[:64], rest[65:]
    _need(rest[64:65] == b"\n" and re.fullmatch(b"[0-9a-f]{64}", opening), "a body without opening")
    return bytes.fromhex(opening.decode()), record


def check_record(leaf, opening, record):
    """Checks record bytes against their leaf, and returns the record."""
    _need(blake3(record, key=opening).hexdigest() == leaf["commit"],
          "the record does not fit the leaf's `commit`")  # fmt: skip
    value = read_json(record)
    _need(value.get("kind") == leaf["kind"], "kind in the record is not the leaf's")
    for name in ("written", "ledger", "chart"):
        _need(value.get(name) == leaf[name], f"`{name}` in the record is not the leaf's")
    author = value.get("author")
    _need(isinstance(author, dict) and author.get("code") == leaf["author"],
          "the author in the record is not the leaf's")  # fmt: skip
    return value


def listed_file(record):
    """The digest that a `file-kept` or `file-removed` record names."""
    data = record.get("data")
    named = data.get("sealed_digest") if isinstance(data, dict) else None
    _need(fits(DIGEST, named), "no `data.sealed_digest`")
    return named


@dataclass(frozen=True)
class StaffKey:
    """One line of a `keys` entry: from and until are days, until may be None."""

    key: VerifierKey
    roles: frozenset
    first: str
    last: str | None

    def counts_on(self, day):
        """Whether a signature of that local day counts (`YYYY-MM-DD` sorts as text)."""
        return self.first <= day and (self.last is None or day <= self.last)


def _day(value):
    _need(isinstance(value, str) and re.fullmatch("[0-9]{4}-[0-9]{2}-[0-9]{2}", value),
          "`from` or `until` is not a day")  # fmt: skip
    try:
        date.fromisoformat(value)
    except ValueError:
        raise FormatError("`from` or `until` is no day that exists") from None
    return value


def staff_keys(record):
    """The staff lines of a `keys` record."""
    data = record.get("data")
    lines = data.get("staff", []) if isinstance(data, dict) else None
    _need(isinstance(lines, list), "`data.staff` is not a list")
    found = []
    for line in lines:
        _need(isinstance(line, dict) and isinstance(line.get("vkey"), str), "a line without vkey")
        key = VerifierKey.parse(line["vkey"])
        _need(line.get("code") == key.name, "a vkey whose name is not the staff code")
        roles = line.get("roles", [])
        _need(isinstance(roles, list) and all(isinstance(r, str) for r in roles),
              "`roles` is not a list of words")  # fmt: skip
        until = line.get("until")
        last = None if until is None else _day(until)
        found.append(StaffKey(key, frozenset(roles), _day(line.get("from")), last))
    return found


class KeyBook:
    """Who may sign, as the `keys` entries so far say."""

    def __init__(self):
        self._by_vkey = {}

    def take_over(self, lines):
        """Adds lines; the same vkey is replaced."""
        for line in lines:
            self._by_vkey[line.key.text] = line

    def keys_named(self, name):
        """Every key ever listed under a staff code."""
        return [line.key for line in self._by_vkey.values() if line.key.name == name]

    def check_signatures(self, leaf, note):
        """Checks the signatures of a leaf. Returns (the author's roles, problems, names of lines
        by keys nobody listed). The author's signature must count; every other line by a listed
        key must be good too."""
        day, roles, problems, unknown = leaf["written"][:10], set(), [], []
        for position, signature in enumerate(note.signatures):
            who = "the author's signature" if position == 0 else "a further signature"
            lines = [x for x in self._by_vkey.values() if signature.is_of(x.key)]
            if not lines:
                if position == 0:
                    problems.append("the author's key is not listed by any earlier `keys` entry")
                else:
                    unknown.append(signature.name)
                continue
            good = [x for x in lines if x.key.verifies(note.text, signature.value)]
            if not good:
                problems.append(f"{who} is false")
            elif not any(x.counts_on(day) for x in good):
                problems.append(f"{who} is by a key that was not valid on {day}")
            elif position == 0:
                for line in good:
                    roles |= line.roles if line.counts_on(day) else frozenset()
        return roles, problems, unknown
