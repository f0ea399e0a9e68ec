#!/usr/bin/env python3
"""Makes spoiled copies of a store, each in one known way, to try a checker on.

    spoil.py STORE OUT_DIR [--other STORE]

Writes OUT_DIR/<name>/store for every way, beside it the outside copy of the checkpoint, and
OUT_DIR/expected.tsv: one line for each copy with its name, the right verdict (sound or wrong) and
what was done to it. What the store does not offer (a second segment, an attachment, an other store)
is left out. The store itself is only read. Needs what scripts/verify.py needs.
"""

import argparse
import base64
import hashlib
import json
import os
import re
import shutil
import sys

try:
    from blake3 import blake3
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from inkfast_format.segment import HEADER_LENGTH, pieces
except ImportError as missing:
    print(f"spoil.py: {missing}. Run scripts/install-outside-checks, then use .venv/bin/python.",
          file=sys.stderr)  # fmt: skip
    sys.exit(2)

WAYS = []


def way(expected, what):
    """Registers a way to spoil a store. The function gets a Copy, and returns False where the
    store does not offer what it needs."""

    def register(change):
        WAYS.append((f"{len(WAYS):02}-{change.__name__.replace('_', '-')}", expected, what, change))
        return change

    return register


class Copy:
    """A copy of the store, to be changed."""

    def __init__(self, root, outside, other):
        self.root, self.outside, self.other = root, outside, other

    def path(self, name):
        """A path in the copy."""
        return os.path.join(self.root, name)

    def names(self):
        """The segment files in order."""
        return [f"ledger/{n}" for n in sorted(os.listdir(self.path("ledger")))]

    def load(self, name):
        """The bytes of a file of it."""
        with open(self.path(name), "rb") as file:
            return bytearray(file.read())

    def save(self, name, data):
        """Writes a file of it."""
        os.makedirs(os.path.dirname(self.path(name)), exist_ok=True)
        with open(self.path(name), "wb") as file:
            file.write(data)

    def frames(self, name):
        """The bytes of a segment's frames in order, as (what, bytes)."""
        data = bytes(self.load(name))
        return [(p.what, data[p.start : p.end]) for p in pieces(data)]

    def put(self, name, frames):
        """Writes a segment anew from frames, as long as it was; False when they do not fit."""
        length = os.path.getsize(self.path(name))
        data = b"".join(data for _, data in frames)
        if len(data) <= length:
            self.save(name, data.ljust(length, b"\0"))
        return len(data) <= length

    def entries(self):
        """Every entry as (segment, its frame's number there)."""
        return [(n, i) for n in self.names()
                for i, (what, _) in enumerate(self.frames(n)) if what == "entry"]  # fmt: skip

    def middle(self):
        """An entry in the middle of the ledger."""
        found = self.entries()
        return found[len(found) // 2]

    def flip(self, name, at, bit=0):
        """Changes one bit."""
        data = self.load(name)
        data[at] ^= 1 << bit
        self.save(name, data)

    def flip_in_entry(self, in_body):
        """Changes one bit in the middle of the leaf's text, or of the body, of the middle entry."""
        name, number = self.middle()
        piece = list(pieces(bytes(self.load(name))))[number]
        leaf = piece.start + HEADER_LENGTH
        body = leaf + len(piece.first)
        self.flip(name, (body + piece.end) // 2 if in_body else leaf + piece.first.index(b"\n") // 2)

    def last_group(self):
        """(segment, number of the first frame of the last group)."""
        name = next(n for n in reversed(self.names()) if len(self.frames(n)) > 1)
        whats = [what for what, _ in self.frames(name)]
        before = [i for i, what in enumerate(whats[:-1]) if what != "entry"]
        return name, before[-1] + 1

    def attachments(self):
        """The sealed files."""
        top = self.path("files")
        return [f"files/{a}/{b}" for a in sorted(os.listdir(top))
                for b in sorted(os.listdir(os.path.join(top, a)))]  # fmt: skip


@way("sound", "nothing")
def honest(_):
    pass


@way("wrong", "one bit of one sealed body changed")
def body_byte(copy):
    copy.flip_in_entry(in_body=True)


@way("wrong", "one entry taken out, what follows moved up")
def entry_removed(copy):
    name, number = copy.middle()
    frames = copy.frames(name)
    return copy.put(name, frames[:number] + frames[number + 1 :])


def _cut_last_group(copy):
    name, first = copy.last_group()
    return copy.put(name, copy.frames(name)[:first])


@way("wrong", "the last group overwritten with zeros; the outside copy knows of it")
def last_group_cut(copy):
    return _cut_last_group(copy)


@way("sound", "the last group overwritten with zeros, and no outside copy to tell")
def last_group_cut_unseen(copy):
    shutil.rmtree(copy.outside, ignore_errors=True)
    return _cut_last_group(copy)


@way("sound", "the last group cut within its last entry as by a power cut; no outside copy")
def write_cut_short(copy):
    shutil.rmtree(copy.outside, ignore_errors=True)
    name, _ = copy.last_group()
    found = list(pieces(bytes(copy.load(name))))
    entry = [p for p in found if p.what == "entry"][-1]
    data, keep = copy.load(name), entry.end - len(entry.second) // 2
    copy.save(name, bytes(data[:keep]).ljust(len(data), b"\0"))


@way("wrong", "two neighbouring entries changed places")
def entries_swapped(copy):
    for name in copy.names():
        frames = copy.frames(name)
        places = [i for i, (what, _) in enumerate(frames) if what == "entry"]
        if len(places) > 1:
            one, two = places[len(places) // 2 - 1], places[len(places) // 2]
            frames[one], frames[two] = frames[two], frames[one]
            return copy.put(name, frames)
    return False


@way("wrong", "the bytes of one sealed attachment replaced")
def attachment_replaced(copy):
    if not copy.attachments():
        return False
    name = copy.attachments()[0]
    copy.save(name, b"age-encryption.org/v1\nanother file" + bytes(copy.load(name)))


@way("wrong", "one sealed attachment removed")
def attachment_removed(copy):
    if not copy.attachments():
        return False
    os.remove(copy.path(copy.attachments()[0]))


@way("sound", "a sealed file added that no entry lists, as an interrupted attaching leaves it")
def attachment_unlisted(copy):
    name = blake3(b"stray").hexdigest()
    copy.save(f"files/{name[:2]}/{name}.age", b"stray")


@way("wrong", "one bit of a leaf's text changed")
def leaf_byte(copy):
    copy.flip_in_entry(in_body=False)


@way("wrong", "one bit of a leaf's signature changed")
def signature_bit(copy):
    name, number = copy.middle()
    piece = list(pieces(bytes(copy.load(name))))[number]
    copy.flip(name, piece.start + HEADER_LENGTH + len(piece.first) - 30)


@way("wrong", "one bit of the last checkpoint changed")
def last_checkpoint_bit(copy):
    name, _ = copy.last_group()
    piece = [p for p in pieces(bytes(copy.load(name))) if p.what == "checkpoint"][-1]
    copy.flip(name, (piece.start + HEADER_LENGTH + piece.end) // 2)


@way("wrong", "one bit of a checkpoint in the middle changed")
def middle_checkpoint_bit(copy):
    name = copy.names()[0]
    found = [p for p in pieces(bytes(copy.load(name))) if p.what == "checkpoint"]
    piece = found[len(found) // 2]
    copy.flip(name, (piece.start + HEADER_LENGTH + piece.end) // 2)


@way("wrong", "one bit of the zeros behind the last entry set")
def zero_tail_bit(copy):
    name = copy.names()[-1]
    data = copy.load(name)
    used = len(data.rstrip(b"\0"))
    copy.flip(name, (used + len(data)) // 2, 3)


@way("wrong", "one bit of a segment's head changed")
def segment_head_byte(copy):
    copy.flip(copy.names()[0], 40)


@way("wrong", "one bit of an entry's frame header changed")
def frame_header_bit(copy):
    name, number = copy.middle()
    copy.flip(name, list(pieces(bytes(copy.load(name))))[number].start + 5)


@way("wrong", "the first segment removed")
def segment_removed(copy):
    if len(copy.names()) < 2:
        return False
    os.remove(copy.path(copy.names()[0]))


@way("wrong", "the last segment removed; the outside copy knows of it")
def last_segment_removed(copy):
    os.remove(copy.path(copy.names()[-1]))


@way("wrong", "the last segment cut to half of its length")
def segment_truncated(copy):
    name = copy.names()[-1]
    copy.save(name, copy.load(name)[: os.path.getsize(copy.path(name)) // 2])


@way("wrong", "a stranger's file in ledger/")
def stranger_file(copy):
    copy.save("ledger/notes.txt", b"not mine\n")


def _set_key(copy, vkey):
    settings = json.loads(copy.load("store.json"))
    settings["checkpoint_key"] = vkey(settings["checkpoint_key"])
    copy.save("store.json", json.dumps(settings, indent=2).encode() + b"\n")


@way("wrong", "the checkpoint key in store.json replaced by a stranger's")
def key_replaced(copy):
    secret = Ed25519PrivateKey.from_private_bytes(hashlib.sha256(b"stranger").digest())
    public = b"\x01" + secret.public_key().public_bytes_raw()

    def stranger(old):
        name = old.partition("+")[0]
        id = hashlib.sha256(name.encode() + b"\n" + public).digest()[:4].hex()
        return f"{name}+{id}+{base64.b64encode(public).decode()}"

    _set_key(copy, stranger)


@way("wrong", "one letter of the checkpoint key in store.json changed")
def key_miscopied(copy):
    _set_key(copy, lambda old: old[:-9] + ("A" if old[-9] != "A" else "B") + old[-8:])


@way("wrong", "an entry of another store put in behind the last")
def entry_of_other_store(copy):
    if copy.other is None:
        return False
    other = Copy(copy.other, None, None)
    name, number = other.middle()
    frame = other.frames(name)[number]
    home, _ = copy.last_group()
    return copy.put(home, [*copy.frames(home), frame])


@way("wrong", "the last group written a second time")
def group_doubled(copy):
    name, first = copy.last_group()
    frames = copy.frames(name)
    return copy.put(name, frames + frames[first:])


@way("wrong", "the last checkpoint written a second time")
def checkpoint_doubled(copy):
    name, _ = copy.last_group()
    frames = copy.frames(name)
    return copy.put(name, frames + frames[-1:])


@way("wrong", "an older copy of the whole store, beside today's outside copy")
def older_copy(copy):
    name, first = copy.last_group()
    frames = copy.frames(name)[:first]
    entries = [i for i, (what, _) in enumerate(frames) if what == "checkpoint"]
    return len(entries) > 1 and copy.put(name, frames[: entries[-2] + 1])


def main():
    """Makes the copies."""
    parser = argparse.ArgumentParser(description="Makes spoiled copies of a store.")
    parser.add_argument("store")
    parser.add_argument("out")
    parser.add_argument("--other", help="another store, to take an entry from")
    arguments = parser.parse_args()
    with open(os.path.join(arguments.store, "store.json"), encoding="utf-8") as file:
        beside = json.load(file).get("outside")
    if not isinstance(beside, str) or not re.fullmatch(r"\.\./[^/]+", beside):
        sys.exit("spoil.py: the store must keep its outside copy in a folder beside it (../NAME)")
    os.makedirs(arguments.out)
    lines = []
    for name, expected, what, change in WAYS:
        root = os.path.join(arguments.out, name, "store")
        shutil.copytree(arguments.store, root, ignore=shutil.ignore_patterns("index", "lock"))
        outside = os.path.join(root, beside)
        if os.path.isdir(os.path.join(arguments.store, beside)):
            shutil.copytree(os.path.join(arguments.store, beside), outside)
        if change(Copy(root, outside, arguments.other)) is False:
            shutil.rmtree(os.path.join(arguments.out, name))
            print(f"left out: {name} ({what})", file=sys.stderr)
            continue
        lines.append(f"{name}\t{expected}\t{what}\n")
    with open(os.path.join(arguments.out, "expected.tsv"), "w", encoding="utf-8") as file:
        file.writelines(lines)
    print(f"{len(lines)} copies in {arguments.out}")


if __name__ == "__main__":
    main()
