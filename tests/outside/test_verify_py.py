"""Tries scripts/verify.py and the two shell checks on a store and a package made by
make_example.py, sound and spoiled. Run: .venv/bin/python tests/outside/test_verify_py.py"""

import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import unittest

HERE = os.path.dirname(os.path.abspath(__file__))
SCRIPTS = os.path.join(HERE, "..", "..", "scripts")
sys.path[:0] = [HERE, SCRIPTS]

import make_example as made  # noqa: E402
from inkfast_format import note, tree  # noqa: E402
from inkfast_format.archive import read_tar  # noqa: E402
from inkfast_format.findings import CannotCheck, FormatError  # noqa: E402
from inkfast_format.package import Package  # noqa: E402
from inkfast_format.store import check_store  # noqa: E402

BASE = EXAMPLE = None


def setUpModule():
    global BASE, EXAMPLE
    BASE = tempfile.mkdtemp()
    EXAMPLE = made.example()
    EXAMPLE.write(os.path.join(BASE, "store"))
    EXAMPLE.write_outside(os.path.join(BASE, "outside"), 11, 10)


def tearDownModule():
    shutil.rmtree(BASE)


def ids(report):
    return {f.id for f in report.findings}


def run(*words):
    return subprocess.run(words, capture_output=True, text=True)


class StoreCase(unittest.TestCase):
    def setUp(self):
        self.root = os.path.join(tempfile.mkdtemp(dir=BASE), "store")
        shutil.copytree(os.path.join(BASE, "store"), self.root)
        self.outside = os.path.join(BASE, "outside")

    def path(self, name):
        return os.path.join(self.root, name)

    def load(self, number):
        with open(self.path(f"ledger/{number:06}.seg"), "rb") as file:
            return bytearray(file.read())

    def save(self, number, data):
        data = bytes(data)[: made.SEGMENT_LENGTH].ljust(made.SEGMENT_LENGTH, b"\0")
        with open(self.path(f"ledger/{number:06}.seg"), "wb") as file:
            file.write(data)

    def use(self, store):
        """Replaces the ledger by that of another store object."""
        for i, data in enumerate([*store.segments, store.used], 1):
            self.save(i, data)

    def check(self, outside=False):
        return check_store(self.root, self.outside if outside else None)

    def expect(self, *wanted, outside=False):
        report = self.check(outside)
        self.assertEqual(report.exit_code(), 1)
        self.assertLessEqual(set(wanted), ids(report), report.findings)
        return report


class SoundStore(StoreCase):
    def test_sound(self):
        report = self.check(outside=True)
        self.assertEqual((report.findings, report.notices, report.unchecked), ([], [], []))
        self.assertEqual(report.facts["entries"], 11)

    def test_command(self):
        verify = os.path.join(SCRIPTS, "verify.py")
        self.assertEqual(run(sys.executable, verify, self.root).returncode, 0)
        self.save(1, self.load(1)[:-5] + b"?")
        spoiled = run(sys.executable, verify, self.root, "--json")
        self.assertEqual(spoiled.returncode, 1)
        found = json.loads(spoiled.stdout)["findings"]
        self.assertEqual(set(found[0]), {"id", "where", "seq", "kind", "chart", "text"})
        self.assertEqual(run(sys.executable, verify, BASE).returncode, 2)
        self.assertEqual(run(sys.executable, verify, self.root + "-none").returncode, 2)


class Tail(StoreCase):
    """What an interrupted writing leaves behind is a notice; anything else is a finding."""

    def begun(self):
        store = made.branch(EXAMPLE)
        return store, store.add("visit", "IV", made.CHART_A), store.add("visit", "IV", made.CHART_B)

    def tail(self, *parts):
        self.save(2, EXAMPLE.used + b"".join(parts))
        report = self.check(outside=True)
        return report.exit_code(), {f.id for f in report.notices}

    def test_clean(self):
        _, one, two = self.begun()
        last = made.frame(b"IFc1", b"x" * 200)
        for parts in (
            (one,), (one, two), (one, two[:-16]), (one, two[:40]), (one[:300],),
            (one[:15],), (one, two, b"IFc1"), (one, last[:150]),
        ):  # fmt: skip
            self.assertEqual(self.tail(*parts), (0, {"interrupted-tail"}), [len(p) for p in parts])

    def test_not_clean(self):
        store, one, two = self.begun()
        bad = bytearray(one)
        bad[-3] ^= 1
        closed = made.frame(b"IFc1", store.checkpoint_note().replace(b"\n13\n", b"\n14\n"))
        for parts in (
            (bytes(bad),), (two,), (b"?",), (one, b"JF"), (one, bytes(64), b"IF"),
            (one, two, closed), (bytes(bad), two[:40]), (one, two[:-5]), (b"IFe1" + bytes(8) + b"\1\1\1\1",),
        ):  # fmt: skip
            self.assertEqual(self.tail(*parts)[0], 1, [len(p) for p in parts])

    def test_last_group_gone(self):
        data = self.load(2)
        cut = data.rfind(b"IFe1")
        self.save(2, data[:cut])
        self.assertEqual(self.check().exit_code(), 0)
        self.expect("behind-outside", outside=True)


class Spoiled(StoreCase):
    def test_changed_body(self):
        data = self.load(1)
        data[data.find(b"age-encryption", data.find(b'"seq":4,')) + 250] ^= 1
        self.save(1, data)
        found = self.expect("body").findings
        self.assertEqual([(f.seq, f.kind, f.chart) for f in found], [(4, "visit", made.CHART_A)])

    def test_changed_leaf(self):
        data = self.load(1)
        at = data.find(b'"written":"2024-03-04T09:04') + len(b'"written":"2024-03-04T09:0')
        data[at] = ord("5")
        self.save(1, data)
        report = self.expect("signature", "chain", "chart-chain", "checkpoint-root")
        self.assertIn(4, {f.seq for f in report.findings if f.id == "signature"})

    def test_broken_header_is_read_past(self):
        data = self.load(1)
        data[data.rfind(b"IFe1", 0, data.find(b'"seq":4,')) + 5] ^= 8
        self.save(1, data)
        report = self.expect("damaged-bytes", "sequence", "chain")
        hit = next(f for f in report.findings if f.id == "damaged-bytes")
        self.assertEqual((hit.seq, hit.kind, hit.chart), (4, "visit", made.CHART_A))
        self.assertFalse([f for f in report.findings if (f.seq or 0) > 7])

    def test_frames_moved(self):
        data = bytes(self.load(1))
        starts = [data.rfind(b"IFe1", 0, data.find(b'"seq":%d,' % n)) for n in (3, 4)]
        end = data.find(b"IFc1", starts[1])
        one, two = data[starts[0] : starts[1]], data[starts[1] : end]
        self.save(1, data[: starts[0]] + data[end:])
        self.expect("sequence", "chain", "chart-sequence")
        self.save(1, data[: starts[0]] + two + one + data[end:])
        self.expect("sequence", "chain")
        self.save(1, data[:end] + two + data[end:])
        self.expect("sequence", "chain")

    def test_segments(self):
        with open(self.path("ledger/000002.seg"), "r+b") as file:
            file.truncate(20_000)
        self.expect("segment-length")
        os.rename(self.path("ledger/000002.seg"), self.path("ledger/000003.seg"))
        self.expect("segment-missing", "segment-head")
        os.remove(self.path("ledger/000001.seg"))
        self.expect("segment-missing", "sequence", "chain")

    def test_unknown_and_changed_files(self):
        made.write_files(self.root, {"ledger/notes.txt": b"", "files/zz": b"", "files/ab/x.age": b""})
        self.assertEqual(len(self.expect("unknown-file").findings), 3)
        sealed = EXAMPLE.sealed_attachment
        digest = made.b3(sealed)
        made.write_files(self.root, {f"files/{digest[:2]}/{digest}.age": sealed + b"x"})
        self.expect("file-changed")
        made.write_files(self.root, {f"files/00/{digest}.age": sealed})
        self.expect("unknown-file")

    def test_listed_files(self):
        digest = made.b3(EXAMPLE.sealed_attachment)
        path = self.path(f"files/{digest[:2]}/{digest}.age")
        os.remove(path)
        found = self.expect("file-missing").findings
        self.assertEqual([(f.seq, f.kind) for f in found], [(9, "file-kept")])
        store = made.branch(EXAMPLE)
        store.add("file-removed", "IV", data={"sealed_digest": digest})
        self.use(store)
        self.expect("file-missing")  # no checkpoint covers the removal
        store.close_group()
        self.use(store)
        self.assertEqual(self.check().exit_code(), 0)
        stray = made.b3(b"stray")
        made.write_files(self.root, {f"files/{stray[:2]}/{stray}.age": b"stray"})
        made.write_files(self.root, {"files/ab/x.part": b"", "ledger/000003.seg.part": b"x"})
        report = self.check()
        self.assertEqual(report.exit_code(), 0)
        self.assertEqual([f.id for f in report.notices if f.id[0] == "f"], ["file-not-listed"] * 2)

    def test_clock(self):
        store = made.branch(EXAMPLE)
        # The first is later than the example's last entry although its local hour is earlier.
        store.add("visit", "IV", made.CHART_A, written="2024-03-04T08:30:00-06:00")
        store.add("visit", "IV", made.CHART_A, written="2024-03-04T08:45:00-05:00")
        self.use(store)
        self.assertNotIn("clock-went-back", {f.id for f in self.check().notices})
        store.close_group()
        self.use(store)
        report = self.check()
        found = [f.seq for f in report.notices if f.id == "clock-went-back"]
        self.assertEqual((report.exit_code(), found), (0, [13]))

    def test_rewritten(self):
        store = made.example()
        store.write(self.root)
        self.assertEqual(self.check().exit_code(), 0)
        self.expect("rewritten", outside=True)

    def test_leaf_rules(self):
        for id, change in {
            "signature": lambda s: s.add("visit", "TR", made.CHART_A, written="2024-08-31T00:00:00-05:00"),
            "keys-not-custodian": lambda s: s.add(
                "keys", "HL", data={"staff": [made.staff_line(s, "HL", ["custodian"])]}
            ),
            "open-entry": lambda s: s.add("keys", "IV", data={"staff": [{"code": "IV", "vkey": "IV+1+2"}]}),
            "leaf-form": lambda s: s.add("visit", "IV", made.CHART_A, written="2024-02-30T00:00:00-05:00"),
        }.items():
            store = made.branch(EXAMPLE)
            change(store)
            store.close_group()
            self.use(store)
            report = self.expect(id)
            self.assertEqual({f.seq for f in report.findings}, {12})

    def test_field_order_and_second_signer(self):
        store = made.branch(EXAMPLE)
        store.order = lambda leaf: dict(sorted(leaf.items()))
        store.add("visit", "IV", made.CHART_A)
        store.close_group()
        self.use(store)
        self.expect("leaf-form")
        store = made.branch(EXAMPLE)
        store.staff["HL"] = made.Signer("HL", seed="stranger")
        store.add("visit", "IV", made.CHART_A, also=("HL",))
        store.close_group()
        self.use(store)
        self.assertEqual(self.check().exit_code(), 0)
        self.assertIn("signature-unknown", {f.id for f in self.check().notices})

    def test_leaf_says_another_thing(self):
        for id, kind, change in (
            ("leaf-form", "visit", {"author": "HL"}),
            ("leaf-form", "visit", {"seq": True}),
            ("chain", "visit", {"prev": "0" * 64}),
            ("chart-chain", "visit", {"chart_prev": "0" * 64}),
            ("other-ledger", "visit", {"ledger": "ledger-" + "0" * 32}),
            ("body", "visit", {"size": 1}),
            ("open-entry", "keys", {"commit": "0" * 64}),
            ("open-entry", "file-kept", {"commit": "0" * 64}),
        ):
            store = made.branch(EXAMPLE)
            store.order = lambda leaf, change=change: {**leaf, **change}
            data = {"keys": {"staff": []}, "file-kept": {"sealed_digest": "0" * 64}}.get(kind)
            store.add(kind, "IV", None if data else made.CHART_A, data=data)
            store.close_group()
            self.use(store)
            self.expect(id)

    def test_name_given_twice(self):
        store = made.branch(EXAMPLE)
        head = store.used
        whole = store.add("visit", "IV", made.CHART_A)
        text = store.leaves[-1].partition(b"\n\n")[0] + b"\n"
        twice = made.note(text.replace(b'"v":1,', b'"v":2,"v":1,', 1), store.staff["IV"])
        body = whole[16 + len(store.leaves[-1]) :]
        store.leaves[-1] = twice
        store.used = head + made.frame(b"IFe1", twice, body)
        store.close_group()
        self.use(store)
        self.expect("leaf-form")

    def test_keys_record_and_open_body(self):
        for change in ({"kind": "visit"}, {"written": "2024-03-04T09:59:00-05:00"}):
            store = made.branch(EXAMPLE)
            store.say = lambda record, change=change: {**record, **change}
            store.add("keys", "IV", data={"staff": []})
            store.close_group()
            self.use(store)
            self.expect("open-entry")
        store = made.branch(EXAMPLE)
        sealing, made.seal = made.seal, lambda data, *_: data
        try:
            store.add("visit", "IV", made.CHART_A)
        finally:
            made.seal = sealing
        store.close_group()
        self.use(store)
        self.assertIn("body-open", {f.id for f in self.check().notices})

    def test_groups_and_heads(self):
        store = made.branch(EXAMPLE)
        store.close_group()
        self.use(store)
        self.expect("group")
        store = made.branch(EXAMPLE)
        store.used += made.frame(b"IFc1", store.checkpoint_note(9))
        self.use(store)
        self.expect("checkpoint-size")
        store = made.branch(EXAMPLE)
        store.add("visit", "IV", made.CHART_A)
        store.begin_segment()
        store.close_group()
        self.use(store)
        self.expect("group")
        store = made.branch(EXAMPLE)
        store.begin_segment()
        good = store.used
        self.use(store)
        self.assertEqual(self.check().exit_code(), 0)
        last = made.b3(store.leaves[-1]).encode()
        for old, new in ((last, b"0" * 64), (b"first 12", b"first 13"), (b"segment 3", b"segment 4")):
            store.used = made.frame(b"IFs1", good[16:].replace(old, new))
            self.use(store)
            self.expect("segment-head")
        os.remove(self.path("ledger/000003.seg"))

    def test_checkpoint_by_another_key(self):
        store = made.branch(EXAMPLE)
        store.add("visit", "IV", made.CHART_A)
        store.log = made.Signer(made.ORIGIN, seed="another")
        store.close_group()
        self.use(store)
        self.expect("checkpoint", "tail")

    def test_settings(self):
        good = {"inkfast_store": 1, "origin": made.ORIGIN, "checkpoint_key": EXAMPLE.log.vkey}
        weak = made.vkey(made.ORIGIN, b"\1" + bytes(31))
        for change, code in (
            ({"inkfast_store": 2}, 2), ({"inkfast_store": True}, 1), ({"origin": "ledger-1"}, 1),
            ({"checkpoint_key": weak}, 1), ({"checkpoint_key": EXAMPLE.staff["IV"].vkey}, 1),
        ):  # fmt: skip
            text = json.dumps({**good, **change}).encode()
            made.write_files(self.root, {"store.json": text})
            done = run(sys.executable, os.path.join(SCRIPTS, "verify.py"), self.root)
            self.assertEqual(done.returncode, code, done)

    def test_chart_recipients_by_a_stranger(self):
        name = f"keys/chart-{made.CHART_A}.note"
        with open(self.path(name), "rb") as file:
            text = file.read().rpartition(b"\n\n")[0] + b"\n"
        for signer in (made.Signer("HL", seed="stranger"), EXAMPLE.staff["TR"]):
            made.write_files(self.root, {name: made.note(text, signer)})
            self.assertIn("chart-recipients", {f.id for f in self.check().notices})

    def test_every_flipped_byte_is_found(self):
        dice = random.Random(7)
        for number in (1, 2):
            whole = self.load(number)
            used = len(whole.rstrip(b"\0"))
            for at in [dice.randrange(used) for _ in range(60)] + [used + 40, len(whole) - 1]:
                spoiled = bytearray(whole)
                spoiled[at] ^= 1 << dice.randrange(8)
                self.save(number, spoiled)
                report = self.check()
                self.assertEqual(report.exit_code(), 1, (number, at))
            self.save(number, whole)

    def test_any_bytes_are_answered(self):
        dice = random.Random(8)
        words = [b"IFs1", b"IFe1", b"IFc1", bytes(16), b"\n\n", b'{"v":1,', EXAMPLE.used[:300]]
        for _ in range(60):
            data = b"".join(dice.choice([*words, dice.randbytes(9)]) for _ in range(400))
            self.save(dice.choice((1, 2)), data)
            self.assertEqual(self.check(outside=True).exit_code(), 1)


class PackageCase(unittest.TestCase):
    def check(self, members):
        return Package(read_tar(made.tar_of(members)), ordered=True).check()

    def expect(self, members, *wanted):
        report = self.check(members)
        self.assertEqual(report.exit_code(), 1)
        self.assertLessEqual(set(wanted), ids(report), report.findings)

    def spoil(self, wanted, change, withhold=()):
        """Changes the members, lists them anew and signs again: the maker of the package lies."""
        members = EXAMPLE.package(withhold)
        change(members)
        EXAMPLE.sign_manifest(members, withhold)
        self.expect(members, wanted)

    def test_sound(self):
        for withhold in ((), (2,), (2, 3)):
            report = self.check(made.example(withhold).package(withhold))
            self.assertEqual((report.findings, report.notices, report.unchecked), ([], [], []))

    def test_members(self):
        members = EXAMPLE.package()
        self.expect({**members, "record.html": b"other"}, "member-changed")
        self.expect({**members, "more.txt": b""}, "member-not-listed")
        del members["entries/000002.record.json"]
        self.expect(members, "member-missing")
        members = EXAMPLE.package()
        first = {"record.html": members.pop("record.html")}
        report = self.check({**first, **members})
        self.assertEqual((report.exit_code(), {f.id for f in report.notices}), (0, {"member-order"}))
        members["manifest.note"] = members["manifest.note"].replace(b"release 11", b"release 9")
        self.expect({**members, **first}, "manifest-note")

    def test_names_that_no_member_may_have(self):
        for name in (".profile", "../x", "/x", "entries/..x", "slips/a b", "a/b/c/d/e", "a//b"):
            self.spoil("member-name", lambda m, name=name: m.update({name: b"x"}))

    def test_lies(self):
        def without(number):
            def change(members):
                for name in [n for n in members if n.startswith(f"entries/{number:06}")]:
                    del members[name]

            return change

        def replaced(name, old, new):
            def change(members):
                assert old in members[name]
                members[name] = members[name].replace(old, new)

            return change

        self.spoil("chart-sequence", without(2))
        self.spoil("release", without(5))
        self.spoil("record", replaced("entries/000002.record.json", b"caf", b"Caf"))
        self.spoil("record", lambda m: m.pop("entries/000002.opening"))
        self.spoil("proof", replaced("entries/000002.tlog-proof", b"index 3", b"index 2"))
        self.spoil("proof", lambda m: m.update(
            {"entries/000002.tlog-proof": m["entries/000003.tlog-proof"]}))  # fmt: skip
        self.spoil("leaf-form", replaced("entries/000002.leaf", b'"v":1', b'"v":2'))
        self.spoil("signature", replaced("entries/000002.leaf", b'"visit"', b'"Visit"'))
        self.spoil("checkpoint", replaced("ledger/checkpoint", b"\n11\n", b"\n12\n"))
        self.spoil("checkpoint", replaced("ledger/policy", b"quorum none", b"quorum all"))
        self.spoil("signature", lambda m: [m.pop(n) for n in list(m) if n.startswith("keys/6.")])
        name = f"attachments/{made.b3(EXAMPLE.attachment)}"
        self.spoil("attachment", replaced(name, b"a picture", b"A picture"))
        self.spoil("attachment-missing", lambda m: m.pop(name))

    def test_lies_in_the_manifest(self):
        for id, change in (
            ("manifest", {"chart": "x"}), ("manifest", {"more": 1}), ("manifest", {"keys": None}),
            ("manifest", {"inkfast_package": True}), ("manifest", {"release": "11"}),
            ("manifest", {"checkpoint_key": EXAMPLE.staff["IV"].vkey}), ("keys-entry", {"keys": [1]}),
            ("release", {"made_by": "IV"}), ("release", {"made": "2024-03-04T09:59:00-05:00"}),
            ("manifest-entry", {"entries": [{"chart_seq": n, "seq": n, "kind": "visit"} for n in range(1, 6)]}),
            ("checkpoint", {"checkpoint_key": made.Signer(made.ORIGIN, seed="other").vkey}),
        ):  # fmt: skip
            store = made.branch(EXAMPLE)
            store.lie = lambda manifest, change=change: manifest.update(change)
            self.expect(store.package(), id)
        store = made.branch(EXAMPLE)
        store.lie = lambda manifest: manifest.update(inkfast_package=2)
        with self.assertRaises(CannotCheck):
            self.check(store.package())

    def test_a_key_listed_later_does_not_count(self):
        store = made.branch(EXAMPLE)
        store.staff["NW"] = made.Signer("NW")
        store.add("visit", "NW", made.CHART_A)
        store.add("keys", "IV", data={"staff": [made.staff_line(store, "NW", ["desk"])]})
        store.add("release", "HL", made.CHART_A)
        self.expect(store.package(), "signature")

    def test_another_chart_and_link(self):
        for id, change in (
            ("other-chart", {"chart": made.CHART_B}),
            ("chart-chain", {"chart_prev": "0" * 64}),
            ("release", {"kind": "visit"}),
        ):
            store = made.branch(EXAMPLE)
            store.add("release", "HL", made.CHART_A)
            text = json.dumps({**store.leaf_data[-1], **change}, separators=(",", ":"))
            store.leaves[-1] = made.note(text.encode() + b"\n", store.staff["HL"])
            self.expect(store.package(), id)

    def test_manifest_note(self):
        for text_of, signer in (
            (lambda t: t.replace(b"release 11", b"release 9"), EXAMPLE.staff["HL"]),
            (lambda t: t, EXAMPLE.staff["IV"]),
            (lambda t: t, made.Signer("HL", seed="stranger")),
        ):
            members = EXAMPLE.package()
            text = members["manifest.note"].rpartition(b"\n\n")[0] + b"\n"
            members["manifest.note"] = made.note(text_of(text), signer)
            self.expect(members, "manifest-note")

    def test_proofs(self):
        members = EXAMPLE.package()
        name = "entries/000002.tlog-proof"
        head = members[name].partition(b"\n\n")[0]
        for proof in (
            head + b"\n\n" + EXAMPLE.checkpoint_note(9),
            members[name].replace(b"index 3", b"index 03"),
            members[name].replace(b"@v1", b"@v2"),
        ):
            spoiled = {**members, name: proof}
            EXAMPLE.sign_manifest(spoiled)
            self.expect(spoiled, "proof")

    def test_attachment_nobody_names(self):
        members = EXAMPLE.package()
        members[f"attachments/{made.b3(b'stray')}"] = b"stray"
        EXAMPLE.sign_manifest(members)
        self.expect(members, "attachment")

    def test_withheld(self):
        def strip(members):
            del members["entries/000002.record.json"], members["entries/000002.opening"]

        self.spoil("withheld", strip)
        members = EXAMPLE.package()
        EXAMPLE.sign_manifest(members, withhold=(2,))
        self.expect(members, "withheld")

    def test_every_flipped_byte_is_found(self):
        dice = random.Random(9)
        whole = made.tar_of(EXAMPLE.package())
        end = len(whole.rstrip(b"\0"))
        for _ in range(80):
            spoiled = bytearray(whole)
            at = dice.randrange(end)
            if whole[at] == 0:
                continue  # what pads a header or a member is no part of the package
            spoiled[at] ^= 1 << dice.randrange(8)
            try:
                report = Package(read_tar(bytes(spoiled)), ordered=True).check()
            except FormatError:
                continue
            self.assertEqual(report.exit_code(), 1, at)


class StockPrograms(StoreCase):
    def identity(self, identity):
        made.write_files(os.path.dirname(self.root), {"identity": identity.file})
        return os.path.join(os.path.dirname(self.root), "identity")

    def test_emergency(self):
        script, key = os.path.join(HERE, "emergency.sh"), self.identity(EXAMPLE.recovery)
        out = self.path("read")
        done = run("sh", script, self.root, key, out)
        self.assertEqual(done.returncode, 0, done)
        for seq, record in enumerate(EXAMPLE.records, 1):
            with open(f"{out}/{seq:06}.json", "rb") as file:
                self.assertEqual(file.read(), record)
        data = self.load(1)
        data[data.find(b"age-encryption", data.find(b'"seq":4,')) + 250] ^= 1
        self.save(1, data)
        done = run("sh", script, self.root, key, self.path("again"))
        self.assertEqual((done.returncode, done.stdout), (1, "10 records read, 0 of a destroyed chart, 1 faults\n"), done)
        other = self.identity(EXAMPLE.asker)
        self.assertEqual(run("sh", script, self.root, other, out).returncode, 2)

    def test_open_package(self):
        script, key = os.path.join(HERE, "open-package.sh"), self.identity(EXAMPLE.asker)
        members = EXAMPLE.package()
        for change, code in (({}, 0), ({"record.html": b"other"}, 1), ({"more.txt": b""}, 1)):
            sealed = made.seal(made.tar_of({**members, **change}), EXAMPLE.asker.recipient)
            made.write_files(self.root, {"p.age": sealed})
            out = tempfile.mkdtemp(dir=BASE)
            done = run("sh", script, self.path("p.age"), key, out)
            self.assertEqual(done.returncode, code, done)
        made.write_files(self.root, {"p.age": sealed[:-9]})
        self.assertEqual(run("sh", script, self.path("p.age"), key, self.path("o")).returncode, 2)


class Standards(unittest.TestCase):
    def test_note_example(self):
        # C2SP signed-note v1.0.0, the published example key.
        key = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k"
        self.assertEqual(note.VerifierKey.parse(key).key_id.hex(), "530d903a")

    def test_tree_vectors(self):
        # The Certificate Transparency reference leaves and roots (transparency-dev/merkle,
        # testonly/constants.go).
        leaves = ["", "00", "10", "2021", "3031", "40414243", "5051525354555657",
                  "606162636465666768696a6b6c6d6e6f"]  # fmt: skip
        hashes = [tree.leaf_hash(bytes.fromhex(x)) for x in leaves]
        roots = {
            1: "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
            5: "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
            7: "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
            8: "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
        }
        for size, root in roots.items():
            self.assertEqual(tree.root_of(hashes[:size]).hex(), root)

    def test_proofs_exhaustively(self):
        hashes = [tree.leaf_hash(bytes([n])) for n in range(40)]
        for size in range(1, 41):
            root = tree.root_of(hashes[:size])
            self.assertEqual(root, made.tree_root(hashes[:size]))
            for index in range(size):
                path = made.tree_path(index, hashes[:size])
                self.assertTrue(tree.inclusion_holds(index, size, hashes[index], path, root))
                for wrong in (path[:-1] if path else [root], [*path, root]):
                    self.assertFalse(tree.inclusion_holds(index, size, hashes[index], wrong, root))
                other = tree.leaf_hash(b"another leaf")
                self.assertFalse(tree.inclusion_holds(index, size, other, path, root))
                # A proof does not bind the tree's size, but one too short for it must fail.
                self.assertFalse(tree.inclusion_holds(index, size * 2 + 1, hashes[index], path, root))

    def test_small_order_points_are_the_curves(self):
        """Derives the points of small order from the curve (RFC 8032 section 5.1)."""
        p = note.FIELD_PRIME
        d = -121665 * pow(121666, -1, p) % p

        def add(a, b):
            t = d * a[0] * b[0] * a[1] * b[1] % p
            return ((a[0] * b[1] + a[1] * b[0]) * pow(1 + t, -1, p) % p,
                    (a[1] * b[1] + a[0] * b[0]) * pow(1 - t, -1, p) % p)  # fmt: skip

        def point(y):
            square = (y * y - 1) * pow(d * y * y + 1, -1, p) % p
            x = pow(square, (p + 3) // 8, p)
            if (x * x - square) % p:
                x = x * pow(2, (p - 1) // 4, p) % p
            return (x, y) if (x * x - square) % p == 0 else None

        for y in note.SMALL_ORDER_Y:
            q = point(y)
            self.assertIsNotNone(q)
            for _ in range(3):
                q = add(q, q)
            self.assertEqual(q, (0, 1))
        # The torsion group has eight points: one or two for each y (x = 0, or x and -x).
        self.assertEqual(sum(1 if point(y)[0] == 0 else 2 for y in note.SMALL_ORDER_Y), 8)

    def test_strict_signatures(self):
        signer = made.Signer("IV")
        key = note.VerifierKey.parse(signer.vkey)
        good = signer.secret.sign(b"text")
        self.assertTrue(key.verifies(b"text", good))
        s = int.from_bytes(good[32:], "little") + note.GROUP_ORDER
        self.assertFalse(key.verifies(b"text", good[:32] + s.to_bytes(32, "little")))
        for public in (bytes(32), b"\1" + bytes(31), (note.FIELD_PRIME + 3).to_bytes(32, "little")):
            with self.assertRaises(FormatError):
                note.VerifierKey.parse(made.vkey("IV", public))


if __name__ == "__main__":
    unittest.main()
