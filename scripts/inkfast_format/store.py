"""Checks a store folder without any reading key (FORMAT.md sections 1-4, 6 and 7)."""

import os
import re
from datetime import datetime

from . import files
from .findings import CannotCheck, FormatError, Report
from .leaf import (
    AGE_MARKER, OPEN_KINDS, ORIGIN, KeyBook, check_record, digest, is_number, listed_file,
    open_body, parse_leaf, read_json, staff_keys,
)  # fmt: skip
from .note import Note, VerifierKey
from .segment import Head, entries_in, pieces
from .tree import Checkpoint, Tree, leaf_hash, root_of

EDITION = 1


class Ledger:
    """Walks the ledger in order and holds what later parts are compared with."""

    def __init__(self, report, origin, key):
        self.report, self.origin, self.key = report, origin, key
        self.book = KeyBook()
        self.count = 0  # entries seen; also the number of the last one
        self.last = None  # digest of the last leaf
        self.charts = {}  # tag -> (number, digest) of its last leaf
        self.openers = {}  # tag -> names of the signatures of the chart's first entry
        self.hashes = []  # leaf hashes by index, while none is missing
        self.whole = True  # no entry missing so far
        self.durable = 0  # entries under the last good checkpoint
        self.pending = []  # places of the entries since the last checkpoint
        self.pending_good = True
        self.listed = {}  # digest of a sealed file -> the leaf that lists it
        self._listings = []  # (kind, digest, leaf) since the last good checkpoint
        self._said = []  # what to report once a checkpoint covers the entries it is about
        self._clock = None  # `written` of the entry before
        self._tree = Tree()
        self._wrong_roots = 0

    # One segment ------------------------------------------------------------------------------

    def segment(self, number, name, data, is_last):
        """Checks one segment."""
        if self.pending:
            self._close_group_badly("the group goes on in another segment, or was never closed")
        found = list(pieces(data))
        if not found or found[0].what != "head":
            self.report.wrong("segment-head", name, "the segment does not begin with a whole head")
        for piece in found:
            self._piece(piece, number, name, data, is_last)

    def _piece(self, piece, number, name, data, is_last):
        where = f"{name} at byte {piece.start}"
        if piece.what == "head":
            self._head(piece, number, where, len(data))
        elif piece.what == "entry":
            self._entry(piece, where)
        elif piece.what == "checkpoint":
            self._checkpoint(piece, where)
        elif piece.what in ("cut", "cut-header") and is_last and self.pending_good:
            self.report.notice(
                "interrupted-tail", where,
                "writing was interrupted here; what follows was never acknowledged to anybody",
            )  # fmt: skip
        else:
            text = f"bytes {piece.start} to {piece.end} are no frame"
            if piece.what in ("rest", "cut", "cut-header"):
                text += " and not what an interrupted writing leaves behind"
            hit = entries_in(data[piece.start : piece.end])
            for leaf in hit or [None]:
                self.report.wrong("damaged-bytes", where, text, leaf)
            self.pending_good = False

    def _head(self, piece, number, where, length):
        report = self.report
        if piece.start != 0:
            report.wrong("segment-head", where, "a segment head inside a segment")
            return
        try:
            head = Head.parse(piece.first)
        except FormatError as error:
            report.wrong("segment-head", where, str(error))
            return
        for holds, text in (
            (head.origin == self.origin, "the head names another ledger"),
            (head.segment == number, f"the head says segment {head.segment}"),
            (head.first == self.count + 1, f"the head says first entry {head.first}, "
                                           f"but {self.count + 1} comes next"),
            (head.prev == self.last, "`prev` is not the digest of the last leaf before"),
        ):  # fmt: skip
            if not holds:
                report.wrong("segment-head", where, text)
        if head.length != length:
            report.wrong(
                "segment-length", where, f"the head says {head.length} bytes, the file has {length}"
            )

    # Entries ----------------------------------------------------------------------------------

    def _entry(self, piece, where):
        before = len(self.report.findings), self.report.not_shown()
        self.pending.append(where)
        leaf_digest = digest(piece.first)
        try:
            leaf, note = parse_leaf(piece.first)
        except FormatError as error:
            about = (entries_in(piece.first) or [{"seq": self.count + 1}])[0]
            self.report.wrong("leaf-form", where, str(error), about)
            self._append(self.count + 1, piece.first)
        else:
            self._links(leaf, leaf_digest, note, where)
            self._append(leaf["seq"], piece.first)
            self._body(leaf, piece.second, where)
            self._open_kinds(leaf, note, piece.second, where)
            self._clocks(leaf, where)
        self.last = leaf_digest
        if (len(self.report.findings), self.report.not_shown()) != before:
            self.pending_good = False

    def _append(self, seq, leaf_bytes):
        if seq != self.count + 1:
            self.whole = False
        self.count = seq
        if self.whole:
            hashed = leaf_hash(leaf_bytes)
            self.hashes.append(hashed)
            self._tree.append(hashed)

    def _links(self, leaf, leaf_digest, note, where):
        def wrong(id, text):
            self.report.wrong(id, where, text, leaf)

        if leaf["ledger"] != self.origin:
            wrong("other-ledger", "the entry names another ledger")
        if leaf["seq"] != self.count + 1:
            wrong("sequence", f"entry {leaf['seq']} stands where {self.count + 1} belongs")
        if leaf["prev"] != self.last:
            wrong("chain", "`prev` is not the digest of the entry before: one of the two, or an "
                           "entry between them, was changed, moved or removed")  # fmt: skip
        tag = leaf["chart"]
        if tag is None:
            return
        number, previous = self.charts.get(tag, (0, None))
        if leaf["chart_seq"] != number + 1:
            wrong("chart-sequence", f"number {leaf['chart_seq']} in the chart stands where "
                                    f"{number + 1} belongs")  # fmt: skip
        if leaf["chart_prev"] != previous:
            wrong("chart-chain", "`chart_prev` is not the digest of the chart's entry before")
        self.charts[tag] = (leaf["chart_seq"], leaf_digest)
        if leaf["chart_seq"] == 1:
            self.openers[tag] = {s.name for s in note.signatures}

    def _body(self, leaf, body, where):
        if len(body) != leaf["size"]:
            self.report.wrong("body", where, "the body has another length than `size`", leaf)
        if digest(body) != leaf["body"]:
            self.report.wrong("body", where, "the body's digest is not `body`", leaf)
        elif leaf["kind"] not in OPEN_KINDS and not body.startswith(AGE_MARKER):
            self._say(self.report.notice, "body-open", where, "the body is not an age file", leaf)

    # What an entry says, and who signed it. An entry that no good checkpoint covers was never
    # acknowledged, so that what it says is judged only when one does.

    def _say(self, how, *words):
        self._said.append((how, words))

    def _open_kinds(self, leaf, note, body, where):
        lines = None
        if leaf["kind"] in OPEN_KINDS:
            try:
                record = check_record(leaf, *open_body(body))
                if leaf["kind"] == "keys":
                    lines = staff_keys(record)
                elif leaf["kind"] not in ("chart-disposed", "earlier-ledger"):
                    self._listings.append((leaf["kind"], listed_file(record), leaf))
            except FormatError as error:
                self._say(self.report.wrong, "open-entry", where, str(error), leaf)
        self._signers(leaf, note, lines, where)

    def _signers(self, leaf, note, lines, where):
        if leaf["seq"] == 1 and lines:
            self.book.take_over(lines)
        roles, problems, unknown = self.book.check_signatures(leaf, note)
        for text in problems:
            self._say(self.report.wrong, "signature", where, text, leaf)
        for _ in unknown:
            self._say(self.report.notice, "signature-unknown", where, "a signature line by a key "
                      "that is not listed; it counts for nothing", leaf)  # fmt: skip
        if leaf["kind"] != "keys" or problems:
            return
        if "custodian" not in roles:
            self._say(self.report.wrong, "keys-not-custodian", where, "keys changed by somebody who "
                      "was not a custodian; the entry does not count", leaf)  # fmt: skip
        elif lines:
            self.book.take_over(lines)

    def _clocks(self, leaf, where):
        written = datetime.fromisoformat(leaf["written"])
        if self._clock is not None and written < self._clock:
            self._say(self.report.notice, "clock-went-back", where, "written before the entry in "
                      "front of it, by the clock; order goes by number", leaf)  # fmt: skip
        self._clock = written

    # Checkpoints ------------------------------------------------------------------------------

    def _checkpoint(self, piece, where):
        report = self.report
        if not self.pending:
            report.wrong("group", where, "a checkpoint without entries before it")
        try:
            checkpoint = Checkpoint.open(piece.first, self.key)
        except FormatError as error:
            report.wrong("checkpoint", where, str(error))
            self.pending_good = False
            return
        if checkpoint.size != self.count:
            report.wrong("checkpoint-size", where, f"the checkpoint is over {checkpoint.size} "
                         f"entries, but {self.count} come before it")  # fmt: skip
        elif self.whole and checkpoint.root != self._tree.root():
            self._wrong_roots += 1
            if self._wrong_roots == 1:
                report.wrong("checkpoint-root", where, "the entries up to here are not the ones "
                             "this checkpoint was signed over")  # fmt: skip
        self.durable = self.count
        self.pending, self.pending_good = [], True
        for how, words in self._said:
            how(*words)
        for kind, named, leaf in self._listings:
            if kind == "file-kept":
                self.listed[named] = leaf
            else:
                self.listed.pop(named, None)
        self._said, self._listings = [], []

    def _close_group_badly(self, text):
        self.report.wrong("group", self.pending[0], text)
        self.pending, self.pending_good = [], True

    def finish(self):
        """Judges what stands behind the last good checkpoint, and sums up."""
        if self.pending and self.pending_good:
            self.report.notice(
                "interrupted-tail", self.pending[0],
                f"{len(self.pending)} whole entries without a checkpoint: writing was interrupted, "
                "they were never acknowledged to anybody",
            )  # fmt: skip
        elif self.pending:
            self.report.wrong("tail", self.pending[0], "what stands behind the last good checkpoint"
                              " is not what an interrupted writing leaves behind")  # fmt: skip
        if self.durable == 0:
            self.report.wrong("empty", "ledger", "no entry stands under a good checkpoint")
        if not self.whole:
            self.report.notice("roots-not-checked", "ledger", "behind the first missing or moved "
                               "entry, the roots of the checkpoints cannot be checked")  # fmt: skip
        if self._wrong_roots > 1:
            self.report.notice("checkpoint-root", "ledger", f"{self._wrong_roots - 1} later "
                               "checkpoints do not fit for the same reason")  # fmt: skip
        self.report.facts.update(entries=self.durable, charts=len(self.charts),
                                 behind_last_checkpoint=self.count - self.durable)  # fmt: skip


def read_settings(root, report):
    """`store.json` as (origin, key, outside folder or None); None when it says too little."""
    path = os.path.join(root, "store.json")
    if files.kind_of(path) != "file":
        raise CannotCheck("there is no file store.json, so that no key is known to check with")
    try:
        settings = read_json(files.read(path))
        edition = settings.get("inkfast_store")
        if is_number(edition) and edition > EDITION:
            raise CannotCheck(f"the store is of edition {edition}; this check knows {EDITION} only")
        if not is_number(edition) or edition != EDITION:
            raise FormatError("`inkfast_store` is not 1")
        origin, vkey = settings.get("origin"), settings.get("checkpoint_key")
        if not isinstance(origin, str) or not ORIGIN.fullmatch(origin):
            raise FormatError("`origin` is not an origin")
        if not isinstance(vkey, str):
            raise FormatError("`checkpoint_key` is missing")
        key = VerifierKey.parse(vkey)
        if key.name != origin:
            raise FormatError("the name of `checkpoint_key` is not the origin")
        outside = settings.get("outside")
        if outside is not None and not isinstance(outside, str):
            raise FormatError("`outside` is not a folder name")
        extra = set(settings) - {"inkfast_store", "origin", "checkpoint_key", "outside"}
        if extra:
            raise FormatError("store.json holds names that this edition does not know")
    except FormatError as error:
        report.wrong("store-json", "store.json", str(error))
        return None
    return origin, key, outside


def check_ledger(root, report, ledger):
    """Walks `ledger/` in order."""
    folder = os.path.join(root, "ledger")
    if files.kind_of(folder) != "folder":
        raise CannotCheck("there is no folder `ledger`")
    segments = []
    for name in files.names_in(folder):
        path = os.path.join(folder, name)
        if name.endswith(".seg.part"):
            continue  # being prepared when the power went: nothing acknowledged is in it
        if not re.fullmatch(r"[0-9]{6}\.seg", name) or files.kind_of(path) != "file":
            report.wrong("unknown-file", f"ledger/{name}", "nothing of this name belongs here")
        else:
            segments.append((int(name[:6]), f"ledger/{name}", path))
    expected = 1
    for position, (number, name, path) in enumerate(segments):
        if number != expected:
            report.wrong("segment-missing", name, f"segment {expected} should come next")
        expected = number + 1
        ledger.segment(number, name, files.read(path), position == len(segments) - 1)
    ledger.finish()


def check_files(root, report, listed):
    """Every file under `files/` is what its name says, and every listed one is there."""
    top, there = os.path.join(root, "files"), set()
    for folder in files.names_in(top) if files.kind_of(top) is not None else ():
        path = os.path.join(top, folder)
        if files.kind_of(path) != "folder":
            report.wrong("unknown-file", f"files/{folder}", "nothing of this name belongs here")
            continue
        for name in files.names_in(path):
            where, inner = f"files/{folder}/{name}", os.path.join(path, name)
            if name.endswith(".part"):
                report.notice("file-not-listed", where, "a file whose writing was interrupted")
                continue
            fits = re.fullmatch(r"[0-9a-f]{64}\.age", name) and name[:2] == folder
            if not fits or files.kind_of(inner) != "file":
                report.wrong("unknown-file", where, "nothing of this name belongs here")
                continue
            named = name[:64]
            there.add(named)
            if digest(files.read(inner)) != named:
                report.wrong("file-changed", where, "the file is not the one its name says",
                             listed.get(named))  # fmt: skip
            elif named not in listed:
                report.notice("file-not-listed", where, "no entry lists this file: attaching it was "
                              "interrupted before it was recorded")  # fmt: skip
    for named, leaf in listed.items():
        if named not in there:
            report.wrong("file-missing", f"files/{named[:2]}/{named}.age", "an entry lists this file, "
                         "and it is not there", leaf)  # fmt: skip
    report.facts["attachments"] = len(there)


_KEY_FILE = re.compile(
    r"staff-[^/]+\.age|role-(desk|clinical)\.age|ledger\.age|chart-[0-9a-f]{32}-(desk|clinical)\.age"
)
_RECIPIENTS = re.compile(
    "inkfast-chart-recipients/v1\n(ledger-[0-9a-f]{32})\n([0-9a-f]{32})\n"
    "desk (age1[02-9ac-hj-np-z]+)\nclinical (age1[02-9ac-hj-np-z]+)\n"
)


def check_keys(root, report, ledger):
    """The names in `keys/`, and each chart's signed recipients. Identities are not opened.

    Nothing here is part of the record, and reading and adding check these files again when they
    use them; so what is wrong here is a notice."""
    folder = os.path.join(root, "keys")
    if files.kind_of(folder) is None:
        report.notice("keys-folder", "keys", "there is no folder `keys`: bodies cannot be opened")
        return
    for name in files.names_in(folder):
        where, path = f"keys/{name}", os.path.join(folder, name)
        note = re.fullmatch(r"chart-([0-9a-f]{32})\.note", name)
        if files.kind_of(path) != "file" or not (note or _KEY_FILE.fullmatch(name)):
            report.notice("unknown-file", where, "nothing of this name belongs here")
        elif note:
            _check_recipients(note[1], where, files.read(path), report, ledger)
        elif not files.read(path).startswith(AGE_MARKER):
            report.notice("key-file", where, "the file is not an age file")


def _check_recipients(tag, where, data, report, ledger):
    about = {"chart": tag}
    try:
        note = Note.parse(data)
    except FormatError as error:
        report.notice("chart-recipients", where, str(error), about)
        return
    text = _RECIPIENTS.fullmatch(note.text.decode("utf-8"))
    if not text or text[1] != ledger.origin or text[2] != tag:
        report.notice("chart-recipients", where, "not the recipients of this chart", about)
        return
    signers = {s.name for s in note.signatures}
    if not any(note.signed_by(k) for name in signers for k in ledger.book.keys_named(name)):
        report.notice("chart-recipients", where, "not signed by a listed key: entries could be "
                      "sealed to a stranger", about)  # fmt: skip
    elif tag in ledger.openers and not signers & ledger.openers[tag]:
        report.notice("chart-recipients", where, "not signed by who opened the chart", about)


def check_outside(folder, report, ledger):
    """Compares the ledger with the newest checkpoint kept outside the store."""
    newest, bad = None, []
    for turn in (0, 1):
        name = f"{ledger.origin}.{turn}.checkpoint"
        path = os.path.join(folder, name)
        if files.kind_of(path) != "file":
            continue
        try:
            checkpoint = Checkpoint.open(files.read(path), ledger.key)
        except FormatError as error:
            bad.append((name, str(error)))
            continue
        if newest is None or checkpoint.size > newest.size:
            newest = checkpoint
    for name, text in bad:
        # The two files are written in turn, so that one torn by a power cut leaves the other good.
        report.notice("outside-unreadable", name, f"this outside copy cannot be used: {text}")
    if newest is None:
        if not bad:
            report.notice("outside-missing", "outside", "no outside copy of this ledger's checkpoint "
                          "was found: a cut tail or an older copy of the whole store would not "
                          "show")  # fmt: skip
        return
    report.facts["outside"] = newest.size
    if newest.size > ledger.durable:
        report.wrong("behind-outside", "outside", f"the outside copy knows {newest.size} entries, "
                     f"the ledger has {ledger.durable}: it is an older copy, or cut")  # fmt: skip
    elif newest.size > len(ledger.hashes):
        report.notice("outside-not-compared", "outside", "an entry is missing, so that the outside "
                      "copy could not be compared")  # fmt: skip
    elif root_of(ledger.hashes[: newest.size]) != newest.root:
        report.wrong("rewritten", "outside", f"the first {newest.size} entries are not the ones the "
                     "outside copy was signed over: the ledger was rewritten")  # fmt: skip


def state_folder():
    """Where the outside copy is kept when the practice chose no folder (FORMAT.md section 7)."""
    base = os.environ.get("XDG_STATE_HOME")
    return os.path.join(base or os.path.expanduser("~/.local/state"), "inkfast")


def check_store(root, outside=None):
    """Checks a store; `outside` overrides the folder that store.json names."""
    report = Report("store")
    settings = read_settings(root, report)
    if settings is None:
        return report
    origin, key, named = settings
    report.facts.update(origin=origin, checkpoint_key=key.text)
    ledger = Ledger(report, origin, key)
    _guarded(report, "ledger", check_ledger, root, report, ledger)
    _guarded(report, "files", check_files, root, report, ledger.listed)
    _guarded(report, "keys", check_keys, root, report, ledger)
    if outside is None:
        outside = state_folder() if named is None else os.path.join(root, named)
    _guarded(report, "outside", check_outside, outside, report, ledger)
    return report


def _guarded(report, part, check, *arguments):
    """One part that cannot be read must not hide what the other parts show."""
    try:
        check(*arguments)
    except CannotCheck as error:
        report.unable("unreadable", part, str(error))
