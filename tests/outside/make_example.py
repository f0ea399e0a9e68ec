"""Writes a small store and a package of it, byte by byte as schema/FORMAT.md says, so that the
checks from outside can be tried without the program that writes stores. Needs `age`."""

import base64
import copy
import hashlib
import io
import json
import os
import subprocess
import tarfile

from blake3 import blake3
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

ORIGIN = "ledger-" + "5e" * 16
CHART_A, CHART_B = "a1" * 16, "b2" * 16
SEGMENT_LENGTH = 32 * 1024
OPEN_KINDS = ("keys", "file-kept", "file-removed", "earlier-ledger")


def b3(data):
    return blake3(data).hexdigest()


def compact(value):
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False).encode()


def key_id(name, public):
    return hashlib.sha256(name.encode() + b"\n\x01" + public).digest()[:4]


def vkey(name, public):
    return f"{name}+{key_id(name, public).hex()}+{base64.b64encode(bytes([1]) + public).decode()}"


class Signer:
    """An Ed25519 key with a name. The seed follows from a word, so each run has the same keys."""

    def __init__(self, name, seed=None):
        self.name = name
        seed = hashlib.sha256((seed or name).encode()).digest()
        self.secret = Ed25519PrivateKey.from_private_bytes(seed)
        public = self.secret.public_key().public_bytes_raw()
        self.id, self.vkey = key_id(name, public), vkey(name, public)

    def line(self, text):
        value = base64.b64encode(self.id + self.secret.sign(text)).decode()
        return f"\u2014 {self.name} {value}\n".encode()


def note(text, *signers):
    return text + b"\n" + b"".join(s.line(text) for s in signers)


class Identity:
    """An age identity, made by the stock program."""

    def __init__(self):
        made = subprocess.run(["age-keygen"], capture_output=True, check=True)
        self.file = made.stdout
        self.recipient = made.stdout.split(b"public key: ")[1].split(b"\n")[0].decode()


def seal(data, *recipients):
    words = [w for r in recipients for w in ("-r", r)]
    return subprocess.run(["age", *words], input=data, capture_output=True, check=True).stdout


def tree_root(hashes):
    """RFC 6962 section 2.1, by its recursive definition."""
    if len(hashes) == 1:
        return hashes[0]
    k = 1
    while k * 2 < len(hashes):
        k *= 2
    return hashlib.sha256(b"\x01" + tree_root(hashes[:k]) + tree_root(hashes[k:])).digest()


def tree_path(index, hashes):
    if len(hashes) == 1:
        return []
    k = 1
    while k * 2 < len(hashes):
        k *= 2
    if index < k:
        return tree_path(index, hashes[:k]) + [tree_root(hashes[k:])]
    return tree_path(index - k, hashes[k:]) + [tree_root(hashes[:k])]


def frame(marker, first, second=b""):
    head = marker + len(first).to_bytes(4, "little") + len(second).to_bytes(4, "little")
    return head + blake3(head).digest()[:4] + first + second


GROUND = "another person's"


def slip_name(number):
    """The slip in the place of an entry, by its number in the chart."""
    return f"slips/{number:06d}.txt"


class Store:
    """A store being written."""

    def __init__(self):
        self.staff = {c: Signer(c) for c in ("IV", "HL", "TR")}
        self.log = Signer(ORIGIN)
        self.roles = {r: Identity() for r in ("desk", "clinical")}
        self.recovery, self.asker = Identity(), Identity()
        self.charts = {c: {r: Identity() for r in self.roles} for c in (CHART_A, CHART_B)}
        self.leaves, self.leaf_data, self.records, self.openings = [], [], [], []
        self.segments, self.used = [], b""
        self.chart_state = {}
        self.minute = 0
        # A test may have other leaf fields, another record or manifest written than the right ones.
        self.order = self.say = self.lie = lambda fields: fields

    # Ledger -----------------------------------------------------------------------------------

    def begin_segment(self):
        if self.used:
            self.segments.append(self.used)
        prev = b3(self.leaves[-1]) if self.leaves else "-"
        lines = (
            f"inkfast-segment/v1\n{ORIGIN}\nsegment {len(self.segments) + 1}\n"
            f"bytes {SEGMENT_LENGTH}\nfirst {len(self.leaves) + 1}\nprev {prev}\n"
        )
        self.used = frame(b"IFs1", lines.encode())

    def recipients(self, chart, half):
        if chart is None:
            return [r.recipient for r in self.roles.values()]
        return [self.charts[chart][half].recipient]

    def add(self, kind, author, chart=None, half="clinical", data=None, also=(), written=None):
        """Adds one entry frame; returns its bytes."""
        seq = len(self.leaves) + 1
        self.minute += 1
        written = written or f"2024-03-04T09:{self.minute:02}:00-05:00"
        record = {"kind": kind, "edition": 1, "ledger": ORIGIN, "written": written}
        if chart is not None:
            record["chart"] = chart
        record["author"] = {"code": author}
        record = {**record, "data": data or {"words": "caf\u00e9 \U0001f58b"}}
        record = compact(self.say(record))
        opening = hashlib.sha256(b"opening %d" % seq).digest()
        body = b"inkfast-body/v1\n" + opening.hex().encode() + b"\n" + record
        if kind not in OPEN_KINDS:
            body = seal(body, *self.recipients(chart, half))
        number, previous = self.chart_state.get(chart, (0, None))
        leaf = {
            "v": 1,
            "ledger": ORIGIN,
            "seq": seq,
            "prev": b3(self.leaves[-1]) if self.leaves else None,
            "chart": chart,
            "chart_seq": number + 1 if chart else None,
            "chart_prev": previous,
            "kind": kind,
            "written": written,
            "author": author,
            "body": b3(body),
            "size": len(body),
            "commit": blake3(record, key=opening).hexdigest(),
        }
        whole = note(compact(self.order(leaf)) + b"\n", *(self.staff[c] for c in (author, *also)))
        if chart:
            self.chart_state[chart] = (number + 1, b3(whole))
        self.leaves.append(whole)
        self.leaf_data.append(leaf)
        self.records.append(record)
        self.openings.append(opening)
        made = frame(b"IFe1", whole, body)
        self.used += made
        return made

    def checkpoint_note(self, size=None):
        hashes = [hashlib.sha256(b"\0" + x).digest() for x in self.leaves[:size]]
        root = base64.b64encode(tree_root(hashes)).decode()
        return note(f"{ORIGIN}\n{len(hashes)}\n{root}\n".encode(), self.log)

    def close_group(self):
        made = frame(b"IFc1", self.checkpoint_note())
        self.used += made
        return made

    # Files ------------------------------------------------------------------------------------

    def write(self, root, outside=None):
        """Writes the folder."""
        files = {f"ledger/{i:06}.seg": data.ljust(SEGMENT_LENGTH, b"\0")
                 for i, data in enumerate([*self.segments, self.used], 1)}  # fmt: skip
        settings = {"inkfast_store": 1, "origin": ORIGIN, "checkpoint_key": self.log.vkey}
        if outside is not None:
            settings["outside"] = outside
        files["store.json"] = json.dumps(settings, indent=1).encode() + b"\n"
        for name, identity in self.roles.items():
            files[f"keys/role-{name}.age"] = seal(identity.file, self.recovery.recipient)
        for tag, halves in self.charts.items():
            both = [r.recipient for r in self.roles.values()]
            files[f"keys/chart-{tag}-desk.age"] = seal(halves["desk"].file, *both)
            files[f"keys/chart-{tag}-clinical.age"] = seal(halves["clinical"].file, both[1])
            text = (
                f"inkfast-chart-recipients/v1\n{ORIGIN}\n{tag}\ndesk {halves['desk'].recipient}\n"
                f"clinical {halves['clinical'].recipient}\n"
            )
            files[f"keys/chart-{tag}.note"] = note(text.encode(), self.staff["HL"])
        sealed = b3(self.sealed_attachment)
        files[f"files/{sealed[:2]}/{sealed}.age"] = self.sealed_attachment
        write_files(root, files)

    def write_outside(self, folder, newest, before):
        """The two files of the outside copy, over so many entries each."""
        write_files(folder, {f"{ORIGIN}.{i}.checkpoint": self.checkpoint_note(n)
                             for i, n in enumerate((newest, before))})  # fmt: skip

    # Package ----------------------------------------------------------------------------------

    def package(self, withhold=()):
        """The members of a package of chart A, in order; `withhold` are numbers in the chart."""
        checkpoint = self.checkpoint_note()
        hashes = [hashlib.sha256(b"\0" + x).digest() for x in self.leaves]
        members = {
            "READ-ME-FIRST.txt": b"How to open, read and check this package.\n",
            "manifest.json": b"",
            "manifest.note": b"",
            "record.html": b"<!doctype html><title>Record</title>\n",
            "record.pdf": b"%PDF-1.7\n",
            "fhir/bundle.json": b'{"resourceType":"Bundle","type":"document"}\n',
            **{slip_name(number): b"Withheld: another person's.\n" for number in withhold},
            "ledger/checkpoint": checkpoint,
            "ledger/policy": f"log {self.log.vkey}\nquorum none\n".encode(),
        }
        shown = {"keys": [], "entries": []}
        for index, leaf in enumerate(self.leaf_data):
            if leaf["kind"] == "keys":
                shown["keys"].append((index, str(leaf["seq"]), False))
            elif leaf["chart"] == CHART_A:
                hidden = leaf["chart_seq"] in withhold
                shown["entries"].append((index, f"{leaf['chart_seq']:06}", hidden))
        for folder, entries in shown.items():
            for index, name, hidden in entries:
                stem = f"{folder}/{name}"
                members[f"{stem}.leaf"] = self.leaves[index]
                if not hidden:
                    members[f"{stem}.record.json"] = self.records[index]
                    members[f"{stem}.opening"] = self.openings[index].hex().encode() + b"\n"
                path = [base64.b64encode(h).decode() + "\n" for h in tree_path(index, hashes)]
                head = f"c2sp.org/tlog-proof@v1\nindex {index}\n{''.join(path)}\n"
                members[f"{stem}.tlog-proof"] = head.encode() + checkpoint
        if 3 not in withhold:  # the number of the attachment's record in chart A
            members[f"attachments/{b3(self.attachment)}"] = self.attachment
        self.sign_manifest(members, withhold)
        return members

    def sign_manifest(self, members, withhold=()):
        """(Re)writes manifest.json and manifest.note over the other members."""
        chart = [x for x in self.leaf_data if x["chart"] == CHART_A]
        entries = [{x: leaf[x] for x in ("chart_seq", "seq", "kind")} for leaf in chart]
        for number in withhold:
            entries[number - 1].update(withheld=GROUND, reason="another-person", slip=slip_name(number))
        manifest = {
            "inkfast_package": 1,
            "ledger": ORIGIN,
            "checkpoint_key": self.log.vkey,
            "chart": CHART_A,
            "release": chart[-1]["seq"],
            "made": chart[-1]["written"],
            "made_by": chart[-1]["author"],
            "entries": entries,
            "keys": [x["seq"] for x in self.leaf_data if x["kind"] == "keys"],
            "files": [
                {"name": n, "bytes": len(d), "blake3": b3(d), "sha256": hashlib.sha256(d).hexdigest()}
                for n, d in members.items()
                if n not in ("manifest.json", "manifest.note")
            ],
        }
        self.lie(manifest)
        data = json.dumps(manifest, indent=1).encode()
        text = (
            f"inkfast-package/v1\n{ORIGIN}\nrelease {chart[-1]['seq']}\n"
            f"blake3 {b3(data)}\nsha256 {hashlib.sha256(data).hexdigest()}\n"
        )
        members["manifest.json"] = data
        members["manifest.note"] = note(text.encode(), self.staff["HL"])


def tar_of(members):
    """The members as a POSIX ustar archive."""
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w", format=tarfile.USTAR_FORMAT) as tar:
        for name, data in members.items():
            info = tarfile.TarInfo(name)
            info.size = len(data)
            tar.addfile(info, io.BytesIO(data))
    return out.getvalue()


def write_files(root, files):
    for name, data in files.items():
        path = os.path.join(root, name)
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(path, "wb") as file:
            file.write(data)


def branch(store):
    """The same store with a ledger that can be continued without changing the first one's."""
    other = copy.copy(store)
    for name in ("staff", "leaves", "leaf_data", "records", "openings", "segments", "chart_state"):
        setattr(other, name, copy.copy(getattr(store, name)))
    return other


def staff_line(store, code, roles, until=None):
    line = {"code": code, "roles": roles, "recipient": store.recovery.recipient}
    line.update(vkey=store.staff[code].vkey, **{"from": "2022-10-03"})
    if until:
        line["until"] = until
    return line


def example(withhold=()):
    """Eleven entries in two segments, two charts, a second `keys` entry, an attachment, a release that says
    that these numbers of chart A are withheld."""
    store = Store()
    store.attachment = b"a picture" * 500
    store.sealed_attachment = seal(store.attachment, store.charts[CHART_A]["clinical"].recipient)
    first = [
        staff_line(store, "IV", ["desk", "clinical", "custodian"]),
        staff_line(store, "HL", ["desk"]),
    ]
    store.begin_segment()
    store.add("keys", "IV", data={"staff": first})
    store.close_group()
    store.add("rules", "IV")
    store.close_group()
    store.add("chart-opened", "HL", CHART_A, "desk")
    store.add("visit", "IV", CHART_A)
    store.close_group()
    store.add("chart-opened", "HL", CHART_B, "desk")
    store.close_group()
    store.begin_segment()
    second = [staff_line(store, "TR", ["desk", "clinical"], "2024-08-30")]
    store.add("keys", "IV", data={"staff": second})
    store.close_group()
    sealed = b3(store.sealed_attachment)
    digests = {"plain_digest": b3(store.attachment), "sealed_digest": sealed}
    store.add("attachment", "TR", CHART_A, data={**digests, "size": len(store.attachment)})
    store.add("visit", "IV", CHART_A, also=("HL",))
    store.add("file-kept", "TR", data={"sealed_digest": sealed})
    store.close_group()
    store.add("visit", "TR", CHART_B)
    store.close_group()
    at = {x["chart_seq"]: x["seq"] for x in store.leaf_data if x["chart"] == CHART_A}
    held = [{"entry": at[n], "ground": GROUND, "slip": True, "reason": "another-person"} for n in withhold]
    store.add("release", "HL", CHART_A, "desk", data={"words": "a copy", "withheld": held})
    store.close_group()
    return store
