"""Checks a store folder without any reading key (FORMAT.md sections 1-3, 6 and 7)."""

import os
import re

from . import files
from .findings import CannotCheck, FormatError, Report
from .leaf import (
    AGE_MARKER, ORIGIN, KeyBook, check_record, digest, open_body, parse_leaf, read_json, staff_keys,
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
        self._tree = Tree()
        self._wrong_roots = 0

    # One segment ------------------------------------------------------------------------------

    def segment(self, number, name, data, is_last):
        """Checks one segment."""
        if is_last and number > 1 and not data.rstrip(b"\0"):
            self.report.notice("segment-begun", name, "a segment that was begun and never used")
            return
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
            self._signers(leaf, note, piece.second, where)
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
        elif leaf["kind"] != "keys" and not body.startswith(AGE_MARKER):
            self.report.wrong("body-open", where, "the body is not an age file", leaf)

    def _signers(self, leaf, note, body, where):
        lines = None
        if leaf["kind"] == "keys":
            lines = self._listed(leaf, body, where)
        elif leaf["seq"] == 1:
            self.report.wrong("first-entry", where, "entry 1 must be of kind `keys`", leaf)
        first = leaf["seq"] == 1 and self.count == 1
        if first and lines:
            self.book.take_over(lines)
        roles, problems, unknown = self.book.check_signatures(leaf, note)
        for text in problems:
            self.report.wrong("signature", where, text, leaf)
        for _ in unknown:
            self.report.notice("signature-unknown", where, "a signature line by a key that is not "
                               "listed; it counts for nothing", leaf)  # fmt: skip
        if first or lines is None:
            return
        if problems or "custodian" not in roles:
            self.report.wrong("keys-not-custodian", where, "keys changed by somebody who was not a "
                              "custodian; the entry does not count", leaf)  # fmt: skip
        else:
            self.book.take_over(lines)

    def _listed(self, leaf, body, where):
        try:
            if leaf["chart"] is not None:
                raise FormatError("a `keys` entry inside a chart")
            return staff_keys(check_record(leaf, *open_body(body)))
        except FormatError as error:
            self.report.wrong("keys-entry", where, str(error), leaf)
            return None

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
        report.wrong("store-json", "store.json", "there is no file store.json")
        return None
    try:
        settings = read_json(files.read(path))
        edition = settings.get("inkfast_store")
        if isinstance(edition, int) and edition > EDITION:
            raise CannotCheck(f"the store is of edition {edition}; this check knows {EDITION} only")
        if edition != EDITION or isinstance(edition, bool):
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
        report.wrong("ledger-folder", "ledger", "there is no folder `ledger`")
        return
    segments = []
    for name in files.names_in(folder):
        path = os.path.join(folder, name)
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


def check_files(root, report):
    """Every file under `files/` must be what its name says."""
    top, count = os.path.join(root, "files"), 0
    if files.kind_of(top) is None:
        return
    for folder in files.names_in(top):
        path = os.path.join(top, folder)
        if not re.fullmatch("[0-9a-f]{2}", folder) or files.kind_of(path) != "folder":
            report.wrong("unknown-file", f"files/{folder}", "nothing of this name belongs here")
            continue
        for name in files.names_in(path):
            where, inner = f"files/{folder}/{name}", os.path.join(path, name)
            if not re.fullmatch(r"[0-9a-f]{64}\.age", name) or files.kind_of(inner) != "file":
                report.wrong("unknown-file", where, "nothing of this name belongs here")
                continue
            count += 1
            data = files.read(inner)
            if digest(data) != name[:64]:
                report.wrong("attachment", where, "the file is not the one its name says")
            elif not data.startswith(AGE_MARKER):
                report.wrong("attachment", where, "the file is not an age file")
            if name[:2] != folder:
                report.wrong("attachment", where, "the file stands in the wrong folder")
    report.facts["attachments"] = count


_KEY_FILE = re.compile(
    r"staff-[^/]+\.age|role-(desk|clinical)\.age|ledger\.age|chart-[0-9a-f]{32}-(desk|clinical)\.age"
)
_RECIPIENTS = re.compile(
    "inkfast-chart-recipients/v1\n(ledger-[0-9a-f]{32})\n([0-9a-f]{32})\n"
    "desk (age1[02-9ac-hj-np-z]+)\nclinical (age1[02-9ac-hj-np-z]+)\n"
)


def check_keys(root, report, ledger):
    """The names in `keys/`, and each chart's signed recipients. Identities are not opened."""
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
            report.wrong("key-file", where, "the file is not an age file")


def _check_recipients(tag, where, data, report, ledger):
    about = {"chart": tag}
    try:
        note = Note.parse(data)
    except FormatError as error:
        report.wrong("chart-recipients", where, str(error), about)
        return
    text = _RECIPIENTS.fullmatch(note.text.decode("utf-8"))
    if not text or text[1] != ledger.origin or text[2] != tag:
        report.wrong("chart-recipients", where, "not the recipients of this chart", about)
        return
    signers = {s.name for s in note.signatures}
    if not any(note.signed_by(k) for name in signers for k in ledger.book.keys_named(name)):
        report.wrong("chart-recipients", where, "not signed by a listed key: entries could be "
                     "sealed to a stranger", about)  # fmt: skip
    elif tag in ledger.openers and not signers & ledger.openers[tag]:
        report.wrong("chart-recipients", where, "not signed by who opened the chart", about)


def check_outside(folder, asked_for, report, ledger):
    """Compares the ledger with the newest checkpoint kept outside the store."""
    good, bad = [], []
    for turn in (0, 1):
        name = f"{ledger.origin}.{turn}.checkpoint"
        path = os.path.join(folder, name)
        if files.kind_of(path) != "file":
            continue
        try:
            good.append((Checkpoint.open(files.read(path), ledger.key), name))
        except FormatError as error:
            bad.append((name, str(error)))
    if not good and not bad:
        say = report.unable if asked_for else report.notice
        say("outside-missing", "outside", "no outside copy of this ledger's checkpoint was found")
        return
    for name, text in bad:
        # The two files are written in turn, so that one torn by a power cut leaves the other good.
        say = report.notice if good else report.wrong
        say("outside-unreadable", name, f"this outside copy cannot be used: {text}")
    report.facts["outside"] = max((c.size for c, _ in good), default=None)
    for checkpoint, name in good:
        if checkpoint.size > ledger.durable:
            report.wrong("behind-outside", name, f"the outside copy knows {checkpoint.size} entries,"
                         f" the ledger has {ledger.durable}: it is an older copy, or cut")  # fmt: skip
        elif checkpoint.size > len(ledger.hashes):
            report.notice("outside-not-compared", name, "an entry is missing, so the outside copy "
                          "could not be compared")  # fmt: skip
        elif root_of(ledger.hashes[: checkpoint.size]) != checkpoint.root:
            report.wrong("rewritten", name, f"the first {checkpoint.size} entries are not the ones "
                         "the outside copy was signed over: the ledger was rewritten")  # fmt: skip


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
    _guarded(report, "files", check_files, root, report)
    _guarded(report, "keys", check_keys, root, report, ledger)
    if outside is not None:
        _guarded(report, "outside", check_outside, outside, True, report, ledger)
    elif named is not None:
        folder = os.path.join(root, named)
        _guarded(report, "outside", check_outside, folder, False, report, ledger)
    else:
        report.notice("outside-none", "outside", "no outside copy to compare with: a cut tail or an "
                      "older copy of the whole store could not be noticed")  # fmt: skip
    return report


def _guarded(report, part, check, *arguments):
    """One part that cannot be read must not hide what the other parts show."""
    try:
        check(*arguments)
    except CannotCheck as error:
        report.unable("unreadable", part, str(error))
