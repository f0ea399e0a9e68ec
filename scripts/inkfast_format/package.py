"""Checks an opened package (FORMAT.md section 8), as a stranger would, without a store."""

import hashlib
import re

from .archive import is_safe_name
from .extent import check_extent, read_extent
from .findings import CannotCheck, FormatError, Report
from .leaf import (
    CHART_TAG, ORIGIN, KeyBook, check_record, digest, fits, is_number, parse_leaf, read_json,
    staff_keys,
)  # fmt: skip
from .note import Note, VerifierKey, lines_of
from .tree import Checkpoint, Proof, inclusion_holds, leaf_hash

EDITION = 1
# The manifest's fields, and those of its lists (FORMAT.md section 8): (always there, may be there).
FIELDS = {"inkfast_package", "ledger", "checkpoint_key", "chart", "release", "made", "made_by",
          "entries", "keys", "files"}  # fmt: skip
MAY_BE = {"span", "differences"}
ENTRY_FIELDS = ({"chart_seq", "seq", "kind"}, {"withheld", "reason", "slip", "supports"})
FILE_FIELDS = ({"name", "bytes", "blake3", "sha256"}, {"media_type"})

# The members in their order; a member's place is the first pattern that fits its name.
PLACES = [
    re.compile(p)
    for p in (
        r"READ-ME-FIRST\.txt",
        r"manifest\.json",
        r"manifest\.note",
        r"record\.html",
        r"record\.pdf",
        r"summary-for-the-patient\.html",
        r"half-page-for-a-clinician\.html",
        r"fhir/bundle\.json",
        r"check\.html",
        r"slips/([0-9]{6}|outside-what-was-asked)\.txt",
        r"differences\.txt",
        r"ledger/checkpoint",
        r"ledger/policy",
        r"keys/([1-9][0-9]{0,17})\.(leaf|record\.json|opening|tlog-proof)",
        r"entries/([0-9]{6})\.(leaf|record\.json|opening|tlog-proof)",
        r"attachments/([0-9a-f]{64})",
    )
]
KEYS, ENTRIES, ATTACHMENTS = 13, 14, 15
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
        self.manifest, self.checkpoint = {}, None
        self.origin = self.log_key = None
        self._sort(members, ordered)

    def _sort(self, members, ordered):
        reached = 0
        for name, data in members:
            if data is None:
                self.report.wrong("unknown-member", name, "not a plain file: a package has no links")
                continue
            if not is_safe_name(name):
                self.report.wrong("member-name", name, "no member may have this name: opened, it could "
                                  "land outside its folder")  # fmt: skip
            if name in self.files:
                self.report.wrong("member-twice", name, "the package holds this member twice")
                continue
            self.files[name] = data
            place = next((i for i, p in enumerate(PLACES) if p.fullmatch(name)), None)
            if place is None:
                self.report.notice("unknown-member", name, "nothing of this name is known here")
                continue
            if ordered and place < reached:
                # Whoever packed an unpacked package again did no harm to any member.
                self.report.notice("member-order", name, "the member stands in another place than "
                                   "the program puts it")  # fmt: skip
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
        for name in ("READ-ME-FIRST.txt", "manifest.note", "record.html", "fhir/bundle.json"):
            self.member(name)
        try:
            manifest = read_json(self.member("manifest.json"))
            self._read_manifest(manifest)
        except FormatError as error:
            report.wrong("manifest", "manifest.json", str(error))
            return
        self.manifest = manifest
        listed = {x["name"]: x for x in manifest["files"]}
        for name in sorted(set(self.files) - set(listed) - UNLISTED):
            report.wrong("member-not-listed", name, "the manifest does not list this member")
        for name, line in listed.items():
            data = self.files.get(name)
            said = tuple(line[x] for x in ("bytes", "blake3", "sha256"))
            if data is None:
                report.wrong("member-missing", name, "the manifest lists it, but it is missing")
            elif (len(data), digest(data), hashlib.sha256(data).hexdigest()) != said:
                report.wrong("member-changed", name, "not the bytes that the manifest lists")

    def _read_manifest(self, manifest):
        edition = manifest.get("inkfast_package")
        if is_number(edition) and edition > EDITION:
            raise CannotCheck(f"the package is of edition {edition}; this check knows {EDITION} only")
        if not FIELDS <= set(manifest) <= FIELDS | MAY_BE or not is_number(edition) or edition != EDITION:
            raise FormatError("the manifest does not have its fields, or not those of edition 1")
        for name, line_fields in (("entries", ENTRY_FIELDS), ("files", FILE_FIELDS)):
            always, sometimes = line_fields
            for line in manifest[name] if isinstance(manifest[name], list) else [None]:
                if not isinstance(line, dict) or not always <= set(line) <= always | sometimes:
                    raise FormatError(f"a line of `{name}` in the manifest with other fields")
                for field, value in line.items():
                    number = field in ("chart_seq", "seq", "bytes", "supports")
                    if not (is_number(value) and value >= 0 if number else isinstance(value, str)):
                        raise FormatError(f"`{field}` in the manifest is of another type")
        keys = manifest["keys"]
        if not isinstance(keys, list) or not all(map(is_number, [*keys, manifest["release"]])):
            raise FormatError("`keys` and `release` in the manifest are not numbers")
        names = [x["name"] for x in manifest["files"]]
        if len(names) != len(set(names)) or UNLISTED & set(names):
            raise FormatError("the manifest lists a member twice, or itself")
        words = [manifest[x] for x in ("ledger", "checkpoint_key", "chart", "made", "made_by")]
        if not all(isinstance(w, str) for w in words):
            raise FormatError("a word in the manifest is none")
        if not fits(ORIGIN, manifest["ledger"]) or not fits(CHART_TAG, manifest["chart"]):
            raise FormatError("`ledger` or `chart` in the manifest is none")
        read_extent(manifest)
        key = VerifierKey.parse(manifest["checkpoint_key"])
        if key.name != manifest["ledger"]:
            raise FormatError("the name of the checkpoint key is not the ledger's")
        self.log_key, self.origin = key, key.name

    # 2: checkpoint ----------------------------------------------------------------------------

    def check_checkpoint(self):
        """The checkpoint is signed by the manifest's key, which is also the policy's."""
        where = "ledger/policy"
        try:
            lines = [x for x in lines_of(self.member(where) or b"\n") if x and x[0] != "#"]
            words = [x.split() for x in lines]
            logs = [x for x in words if x and x[0] == "log"]
            if len(logs) != 1 or len(logs[0]) < 2 or ["quorum", "none"] not in words:
                raise FormatError("the policy must name one log and `quorum none`")
            if logs[0][1] != self.log_key.text:
                raise FormatError("the policy names another checkpoint key than the manifest")
            where = "ledger/checkpoint"
            self.checkpoint = Checkpoint.open(self.member(where), self.log_key)
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
        if leaf["ledger"] != self.origin:
            self.report.wrong("other-ledger", where, "the entry names another ledger", leaf)
        place = f"{entry.stem}.tlog-proof"
        if "tlog-proof" not in entry.parts:
            self.report.wrong("member-missing", place, "an entry without its proof", leaf)
            return
        if self.checkpoint is None:
            return
        try:
            proof = Proof.parse(entry.parts["tlog-proof"])
            if Checkpoint.open(proof.checkpoint, self.log_key) != self.checkpoint:
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
        if entry.leaf["seq"] == 1:
            book.take_over(lines)
        if "custodian" not in self._signatures(entry, where, book):
            self.report.wrong("keys-not-custodian", where, "keys changed by somebody who was not a "
                              "custodian; the entry does not count", entry.leaf)  # fmt: skip
        else:
            book.take_over(lines)

    # 5: the chart -------------------------------------------------------------------------------

    def check_chart(self, book):
        """Numbers 1 to n, the links, the release entry at the end, and what is withheld."""
        chart, numbers, listed = self.manifest["chart"], sorted(self.entries), self.manifest["entries"]
        if sorted(self.keys) != sorted(self.manifest["keys"]) or 1 not in self.keys:
            self.report.wrong("keys-entry", "keys", "the `keys` entries are not those of the manifest, "
                              "or entry 1 is missing")  # fmt: skip
        if numbers != list(range(1, len(listed) + 1)) or not numbers:
            self.report.wrong("chart-sequence", "entries", "the numbers do not run from 1 without gap "
                              "to the manifest's last")  # fmt: skip
        previous, last_seq = None, 0
        for number in numbers:
            entry, where = self.entries[number], f"{self.entries[number].stem}.leaf"
            leaf = entry.leaf
            if leaf is not None:
                for holds, id, text in (
                    (leaf["chart"] == chart, "other-chart", "an entry of another chart"),
                    (leaf["chart_seq"] == number, "chart-sequence", "the name is not the number"),
                    (leaf["chart_prev"] == previous, "chart-chain", "`chart_prev` does not fit"),
                    (leaf["seq"] > last_seq, "sequence", "stands before an earlier entry"),
                    (self._is_listed(leaf, listed), "manifest-entry", "not as the manifest has it"),
                ):
                    if not holds:
                        self.report.wrong(id, where, text, leaf)
                last_seq = leaf["seq"]
                reason = listed[number - 1].get("withheld") if number <= len(listed) else None
                self._shown_or_withheld(entry, reason)
            previous = digest(entry.parts.get("leaf", b""))
        self._check_release(self.entries[numbers[-1]] if numbers else None, book)

    @staticmethod
    def _is_listed(leaf, listed):
        number = leaf["chart_seq"]
        if number is None or not 1 <= number <= len(listed):
            return False
        return all(listed[number - 1][x] == leaf[x] for x in ENTRY_FIELDS[0])

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
        said = tuple(self.manifest[x] for x in ("release", "made", "made_by"))
        if leaf["kind"] != "release" or said != (leaf["seq"], leaf["written"], leaf["author"]):
            report.wrong("release", f"{last.stem}.leaf", "the chart's last entry is not the release "
                         "that the manifest names", leaf)  # fmt: skip
        data = self.files.get("manifest.json", b"")
        expected = (
            f"inkfast-package/v1\n{self.origin}\nrelease {self.manifest['release']}\n"
            f"blake3 {digest(data)}\nsha256 {hashlib.sha256(data).hexdigest()}\n"
        )
        try:
            note = Note.parse(self.files.get("manifest.note", b""))
            if note.text != expected.encode():
                raise FormatError("the note is not over this manifest and this release")
            if note.signatures[0].name != leaf["author"]:
                raise FormatError("signed by somebody else than the author of the release entry")
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
                    named[plain] = (entry, data.get("size"))
                else:
                    self.report.wrong("record", f"{entry.stem}.record.json",
                                      "an attachment record without `plain_digest`", entry.leaf)  # fmt: skip
        for name, data in self.attachments.items():
            where = f"attachments/{name}"
            if digest(data) != name:
                self.report.wrong("attachment", where, "the file is not the one its name says")
            if name not in named:
                self.report.wrong("attachment", where, "no record in the package names this file")
        for name, (entry, size) in named.items():
            where = f"{entry.stem}.record.json"
            if name not in self.attachments:
                self.report.wrong("attachment-missing", where, "the record names a file that is not "
                                  "in the package", entry.leaf)  # fmt: skip
            elif len(self.attachments[name]) != size:
                self.report.wrong("attachment", where, "the file has another length than the record "
                                  "says", entry.leaf)  # fmt: skip

    def check(self):
        """All checks of section 8; returns the report."""
        self.check_manifest()
        if self.manifest:
            self.check_checkpoint()
            book = self.check_leaves()
            self.check_chart(book)
            self.check_attachments()
            records = {e.leaf["seq"]: e.record for e in self.entries.values() if e.leaf and e.record}
            check_extent(self.report, self.manifest, records, self.files)
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
