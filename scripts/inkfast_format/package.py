"""Checks an opened package (FORMAT.md section 8), as a stranger would, without a store."""

import hashlib
import re

from .findings import FormatError, Report
from .leaf import ORIGIN, KeyBook, check_record, digest, is_number, parse_leaf, read_json, staff_keys
from .note import Note, VerifierKey, lines_of
from .tree import Checkpoint, Proof, inclusion_holds, leaf_hash

# The names of the manifest's fields (schema/package-manifest.schema.json).
LIST, NAME, LENGTH, BLAKE3, SHA256 = "members", "name", "size", "blake3", "sha256"
CHART, WITHHELD, WITHHELD_NUMBER, WITHHELD_REASON = "chart", "withheld", "chart_seq", "reason"

# The members in their order; a member's place is the first pattern that fits its name.
PLACES = [
    re.compile(p)
    for p in (
        r"READ-ME-FIRST\.txt",
        r"manifest\.json",
        r"manifest\.note",
        r"record\.html",
        r"ledger/checkpoint",
        r"ledger/policy",
        r"keys/([1-9][0-9]{0,17})\.(leaf|record\.json|opening|tlog-proof)",
        r"entries/([0-9]{6})\.(leaf|record\.json|opening|tlog-proof)",
        r"attachments/([0-9a-f]{64})",
    )
]
KEYS, ENTRIES, ATTACHMENTS = 6, 7, 8
# Not listed in the manifest, because it cannot list itself and the note is made over it.
UNLISTED = {"manifest.json", "manifest.note"}


class Entry:
    """The members of one entry, and what was read from them."""

    def __init__(self, stem, number):
        self.stem, self.number = stem, number
        self.parts = {}
        self.leaf = self.note = self.record = None


class Package:
    """The members of a package, sorted into their places."""

    def __init__(self, members, ordered):
        self.report = Report("package")
        self.files = {}
        self.keys, self.entries, self.attachments = {}, {}, {}
        self.manifest, self.checkpoint, self.checkpoint_bytes = {}, None, b""
        self.origin = self.log_key = None
        self._sort(members, ordered)

    def _sort(self, members, ordered):
        reached = 0
        for name, data in members:
            if name in self.files:
                self.report.wrong("member-twice", name, "the package holds this member twice")
                continue
            self.files[name] = data
            place = next((i for i, p in enumerate(PLACES) if p.fullmatch(name)), None)
            if place is None:
                self.report.wrong("unknown-member", name, "nothing of this name belongs in a package")
                continue
            if ordered and place < reached:
                self.report.wrong("member-order", name, "the member stands in the wrong place")
            reached = max(reached, place)
            match = PLACES[place].fullmatch(name)
            if place in (KEYS, ENTRIES):
                group = self.keys if place == KEYS else self.entries
                stem = name[: -len(match[2]) - 1]
                entry = group.setdefault(int(match[1]), Entry(stem, int(match[1])))
                entry.parts[match[2]] = data
            elif place == ATTACHMENTS:
                self.attachments[match[1]] = data

    def member(self, name):
        """A member that must be there; b"" and a finding when it is not."""
        if name not in self.files:
            self.report.wrong("member-missing", name, "this member is missing")
        return self.files.get(name, b"")

    # 1: manifest ------------------------------------------------------------------------------

    def check_manifest(self):
        """Every member is listed, is there, and has the length and digests listed."""
        report = self.report
        for name in ("READ-ME-FIRST.txt", "manifest.note", "record.html"):
            self.member(name)
        try:
            self.manifest = read_json(self.member("manifest.json"))
            listed = self._listed()
        except FormatError as error:
            report.wrong("manifest", "manifest.json", str(error))
            return
        for name in sorted(set(self.files) - set(listed) - UNLISTED):
            report.wrong("member-not-listed", name, "the manifest does not list this member")
        for name, line in listed.items():
            data = self.files.get(name)
            if data is None:
                report.wrong("member-missing", name, "the manifest lists it, but it is missing")
            elif (len(data), digest(data), hashlib.sha256(data).hexdigest()) != line:
                report.wrong("member-changed", name, "not the bytes that the manifest lists")

    def _listed(self):
        lines = self.manifest.get(LIST)
        if not isinstance(lines, list) or not all(isinstance(x, dict) for x in lines):
            raise FormatError(f"the manifest has no list `{LIST}`")
        listed = {}
        for line in lines:
            name = line.get(NAME)
            if not isinstance(name, str) or name in listed or name in UNLISTED:
                raise FormatError("the manifest lists a member without a name, twice, or itself")
            if not is_number(line.get(LENGTH)):
                raise FormatError("the manifest lists a member without length")
            listed[name] = (line[LENGTH], line.get(BLAKE3), line.get(SHA256))
        return listed

    # 2: checkpoint ----------------------------------------------------------------------------

    def check_checkpoint(self):
        """The policy's key, and the checkpoint signed by it."""
        where = "ledger/policy"
        try:
            lines = [x for x in lines_of(self.member(where) or b"\n") if x and x[0] != "#"]
            words = [x.split() for x in lines]
            logs = [x for x in words if x and x[0] == "log"]
            if len(logs) != 1 or len(logs[0]) < 2 or ["quorum", "none"] not in words:
                raise FormatError("the policy must name one log and `quorum none`")
            self.log_key = VerifierKey.parse(logs[0][1])
            self.origin = self.log_key.name
            if not ORIGIN.fullmatch(self.origin):
                raise FormatError("the name of the checkpoint key is not an origin")
            if self.manifest.get("checkpoint_key", self.log_key.text) != self.log_key.text:
                raise FormatError("the manifest names another checkpoint key")
            if self.manifest.get("origin", self.origin) != self.origin:
                raise FormatError("the manifest names another ledger")
            where = "ledger/checkpoint"
            self.checkpoint_bytes = self.member(where)
            self.checkpoint = Checkpoint.open(self.checkpoint_bytes, self.log_key)
        except (FormatError, UnicodeDecodeError) as error:
            text = str(error) if isinstance(error, FormatError) else "not UTF-8"
            self.report.wrong("checkpoint", where, text)

    # 3, 4, 6: leaves, proofs, records -----------------------------------------------------------

    def check_leaves(self):
        """Every leaf in ledger order: form, proof, record, and signature by the keys so far."""
        book, seen = KeyBook(), {}
        for entry in [*self.keys.values(), *self.entries.values()]:
            self._read(entry)
        for entry in self.keys.values():
            self._check_key_entry(entry)
        merged = [e for e in (*self.keys.values(), *self.entries.values()) if e.leaf]
        for entry in sorted(merged, key=lambda e: e.leaf["seq"]):
            seq, where = entry.leaf["seq"], f"{entry.stem}.leaf"
            if seen.setdefault(seq, where) != where:
                self.report.wrong("sequence", where, "two entries with the same number", entry.leaf)
            self._check_place(entry, where)
            if entry in self.keys.values():
                self._sign_keys(entry, where, book)
            else:
                self._signatures(entry, where, book)
        return book

    def _read(self, entry):
        where = f"{entry.stem}.leaf"
        if "leaf" not in entry.parts:
            self.report.wrong("member-missing", where, "an entry without its leaf")
            return
        try:
            entry.leaf, entry.note = parse_leaf(entry.parts["leaf"])
        except FormatError as error:
            self.report.wrong("leaf-form", where, str(error))
            return
        self._read_record(entry)

    def _read_record(self, entry):
        record, opening = entry.parts.get("record.json"), entry.parts.get("opening")
        if record is None and opening is None:
            return
        where = f"{entry.stem}.record.json"
        try:
            if record is None or opening is None:
                raise FormatError("a record without its opening, or an opening without record")
            if not re.fullmatch(rb"[0-9a-f]{64}\n", opening):
                raise FormatError("an opening that is not 64 hex digits and a line end")
            raw = bytes.fromhex(opening[:64].decode())
            entry.record = check_record(entry.leaf, raw, record)
        except FormatError as error:
            self.report.wrong("record", where, str(error), entry.leaf)

    def _check_place(self, entry, where):
        leaf = entry.leaf
        if self.origin is not None and leaf["ledger"] != self.origin:
            self.report.wrong("other-ledger", where, "the entry names another ledger", leaf)
        place = f"{entry.stem}.tlog-proof"
        if "tlog-proof" not in entry.parts:
            self.report.wrong("member-missing", place, "an entry without its proof", leaf)
            return
        if self.checkpoint is None:
            return
        try:
            proof = Proof.parse(entry.parts["tlog-proof"])
            if proof.checkpoint != self.checkpoint_bytes:
                raise FormatError("the proof is for another checkpoint than ledger/checkpoint")
            if proof.index != leaf["seq"] - 1:
                raise FormatError("the proof is for another entry number")
            if not inclusion_holds(
                proof.index, self.checkpoint.size, leaf_hash(entry.parts["leaf"]),
                proof.path, self.checkpoint.root,
            ):  # fmt: skip
                raise FormatError("the entry is not the one the checkpoint was signed over")
        except FormatError as error:
            self.report.wrong("proof", place, str(error), leaf)

    def _signatures(self, entry, where, book):
        roles, problems, unknown = book.check_signatures(entry.leaf, entry.note)
        for text in problems:
            self.report.wrong("signature", where, text, entry.leaf)
        for _ in unknown:
            self.report.notice("signature-unknown", where, "a signature line by a key that is not "
                               "listed; it counts for nothing", entry.leaf)  # fmt: skip
        return set() if problems else roles

    def _check_key_entry(self, entry):
        leaf, where = entry.leaf, f"{entry.stem}.leaf"
        if leaf is None:
            return
        if leaf["kind"] != "keys" or leaf["chart"] is not None:
            self.report.wrong("keys-entry", where, "not a `keys` entry", leaf)
        if leaf["seq"] != entry.number:
            self.report.wrong("keys-entry", where, "the name is not the entry's number", leaf)
        if not {"record.json", "opening"} <= set(entry.parts):
            self.report.wrong("keys-entry", where, "a `keys` entry without its record", leaf)

    def _sign_keys(self, entry, where, book):
        lines = []
        if entry.record is not None and entry.leaf["kind"] == "keys":
            try:
                lines = staff_keys(entry.record)
            except FormatError as error:
                self.report.wrong("keys-entry", where, str(error), entry.leaf)
        first = entry.leaf["seq"] == 1
        if first:
            book.take_over(lines)
        roles = self._signatures(entry, where, book)
        if first:
            return
        if "custodian" not in roles:
            self.report.wrong("keys-not-custodian", where, "keys changed by somebody who was not a "
                              "custodian; the entry does not count", entry.leaf)  # fmt: skip
        else:
            book.take_over(lines)

    # 5: the chart -------------------------------------------------------------------------------

    def check_chart(self, book):
        """Numbers 1 to n, the links, the release entry at the end, and what is withheld."""
        chart, numbers = self.manifest.get(CHART), sorted(self.entries)
        if 1 not in self.keys:
            self.report.wrong("keys-entry", "keys", "entry 1 is missing")
        if numbers != list(range(1, len(numbers) + 1)) or not numbers:
            self.report.wrong("chart-sequence", "entries", "the numbers do not run from 1 without gap")
        withheld, previous, last_seq = self._withheld(), None, 0
        for number in numbers:
            entry, where = self.entries[number], f"{self.entries[number].stem}.leaf"
            leaf = entry.leaf
            if leaf is not None:
                for holds, id, text in (
                    (leaf["chart"] == chart, "other-chart", "an entry of another chart"),
                    (leaf["chart_seq"] == number, "chart-sequence", "the name is not the number"),
                    (leaf["chart_prev"] == previous, "chart-chain", "`chart_prev` does not fit"),
                    (leaf["seq"] > last_seq, "sequence", "stands before an earlier entry"),
                ):
                    if not holds:
                        self.report.wrong(id, where, text, leaf)
                last_seq = leaf["seq"]
                self._shown_or_withheld(entry, withheld.pop(number, None))
            previous = digest(entry.parts.get("leaf", b""))
        for number in withheld:
            self.report.wrong("withheld", "manifest.json", f"withholds entry {number}, which is not "
                              "in the package")  # fmt: skip
        self._check_release(self.entries[numbers[-1]] if numbers else None, book)

    def _withheld(self):
        lines, found = self.manifest.get(WITHHELD, []), {}
        for line in lines if isinstance(lines, list) else [None]:
            if not isinstance(line, dict) or not is_number(line.get(WITHHELD_NUMBER)):
                self.report.wrong("manifest", "manifest.json", f"`{WITHHELD}` is not readable")
                continue
            found[line[WITHHELD_NUMBER]] = line.get(WITHHELD_REASON)
        return found

    def _shown_or_withheld(self, entry, reason):
        hidden = not {"record.json", "opening"} & set(entry.parts)
        where = f"{entry.stem}.leaf"
        if hidden and not (isinstance(reason, str) and reason.strip()):
            self.report.wrong("withheld", where, "withheld without a reason in the manifest",
                              entry.leaf)  # fmt: skip
        if not hidden and reason is not None:
            self.report.wrong("withheld", where, "shown, though the manifest says withheld",
                              entry.leaf)  # fmt: skip

    def _check_release(self, last, book):
        if last is None or last.leaf is None:
            return
        report, leaf = self.report, last.leaf
        if leaf["kind"] != "release":
            report.wrong("release", f"{last.stem}.leaf", "the chart's last entry is not the release",
                         leaf)  # fmt: skip
        data = self.files.get("manifest.json", b"")
        expected = (
            f"inkfast-package/v1\n{self.origin}\nrelease {leaf['seq']}\n"
            f"blake3 {digest(data)}\nsha256 {hashlib.sha256(data).hexdigest()}\n"
        )
        try:
            note = Note.parse(self.files.get("manifest.note", b""))
            if note.text != expected.encode():
                raise FormatError("the note is not over this manifest and this release")
            if note.signatures[0].name not in {s.name for s in last.note.signatures}:
                raise FormatError("signed by somebody else than who signed the release entry")
            day = {"written": leaf["written"]}
            _, problems, _ = book.check_signatures(day, note)
            if problems:
                raise FormatError(problems[0])
        except FormatError as error:
            report.wrong("manifest-note", "manifest.note", str(error))

    # 7: attachments -----------------------------------------------------------------------------

    def check_attachments(self):
        """Each is what its name says, and each is named by a record of this chart."""
        named = {}
        for entry in self.entries.values():
            if entry.record is not None and entry.leaf["kind"] == "attachment":
                data = entry.record.get("data")
                plain = data.get("plain_digest") if isinstance(data, dict) else None
                if isinstance(plain, str):
                    named[plain] = entry
                else:
                    self.report.wrong("record", f"{entry.stem}.record.json",
                                      "an attachment record without `plain_digest`", entry.leaf)  # fmt: skip
        for name, data in self.attachments.items():
            where = f"attachments/{name}"
            if digest(data) != name:
                self.report.wrong("attachment", where, "the file is not the one its name says")
            if name not in named:
                self.report.wrong("attachment", where, "no record in the package names this file")
        for name, entry in named.items():
            if name not in self.attachments:
                self.report.notice("attachment-absent", f"{entry.stem}.record.json",
                                   "the record names a file that is not in the package", entry.leaf)  # fmt: skip

    def check(self):
        """All seven checks of section 8; returns the report."""
        self.check_manifest()
        self.check_checkpoint()
        book = self.check_leaves()
        self.check_chart(book)
        self.check_attachments()
        shown = sum(1 for e in self.entries.values() if e.record is not None)
        self.report.facts.update(
            origin=self.origin,
            checkpoint_key=self.log_key.text if self.log_key else None,
            ledger_size=self.checkpoint.size if self.checkpoint else None,
            chart_entries=len(self.entries),
            records_shown=shown,
            attachments=len(self.attachments),
        )
        return self.report
