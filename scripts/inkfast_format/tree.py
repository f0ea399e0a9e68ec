"""The RFC 6962 tree (SHA-256), checkpoints (C2SP tlog-checkpoint), proofs (C2SP tlog-proof)."""

import hashlib
from dataclasses import dataclass

from .findings import FormatError
from .note import Note, lines_of, number, strict_base64

PROOF_MARKER = "c2sp.org/tlog-proof@v1"


def leaf_hash(data):
    """RFC 6962 section 2.1: SHA-256(0x00 || leaf)."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left, right):
    """RFC 6962 section 2.1: SHA-256(0x01 || left || right)."""
    return hashlib.sha256(b"\x01" + left + right).digest()


class Tree:
    """A tree that grows at the right edge: the roots of its complete subtrees, largest first."""

    def __init__(self):
        self.size = 0
        self._edge = []

    def append(self, hashed_leaf):
        """Adds one leaf hash."""
        self._edge.append(hashed_leaf)
        self.size += 1
        rest = self.size
        while rest % 2 == 0:
            right = self._edge.pop()
            self._edge[-1] = node_hash(self._edge[-1], right)
            rest //= 2

    def root(self):
        """The root over everything so far."""
        if not self._edge:
            return hashlib.sha256(b"").digest()
        root = self._edge[-1]
        for left in reversed(self._edge[:-1]):
            root = node_hash(left, root)
        return root


def root_of(hashes):
    """The root over a list of leaf hashes."""
    tree = Tree()
    for item in hashes:
        tree.append(item)
    return tree.root()


def inclusion_holds(index, size, hashed_leaf, path, root):
    """RFC 9162 section 2.1.3.2. `size` and `root` must come from a checked checkpoint."""
    if index >= size or any(len(p) != 32 for p in path):
        return False
    fn, sn, r = index, size - 1, hashed_leaf
    for p in path:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            r = node_hash(p, r)
            while not fn & 1 and fn != 0:
                fn >>= 1
                sn >>= 1
        else:
            r = node_hash(r, p)
        fn >>= 1
        sn >>= 1
    return sn == 0 and r == root


@dataclass(frozen=True)
class Checkpoint:
    """A checkpoint whose signature was checked."""

    size: int
    root: bytes

    @classmethod
    def open(cls, data, key):
        """Reads a checkpoint and checks that `key` signed it and that it names the key's ledger."""
        note = Note.parse(data)
        if not note.signed_by(key):
            raise FormatError("the checkpoint's signature is not a good one by the checkpoint key")
        lines = lines_of(note.text)
        if len(lines) != 3:
            raise FormatError("a checkpoint must have exactly three lines")
        if lines[0] != key.name:
            raise FormatError("the checkpoint is of another ledger")
        root = strict_base64(lines[2])
        if len(root) != 32:
            raise FormatError("the checkpoint's root is not 32 bytes")
        return cls(number(lines[1]), root)


@dataclass(frozen=True)
class Proof:
    """An inclusion proof as a file holds it; nothing of it is trusted."""

    index: int
    path: tuple
    checkpoint: bytes

    @classmethod
    def parse(cls, data):
        """Reads `.tlog-proof`."""
        head, gap, checkpoint = data.partition(b"\n\n")
        try:
            lines = head.decode("utf-8").split("\n")
        except UnicodeDecodeError:
            raise FormatError("a proof that is not UTF-8") from None
        if not gap or lines[0] != PROOF_MARKER:
            raise FormatError("not a proof file")
        at = 2 if len(lines) > 1 and lines[1].startswith("extra ") else 1
        if at == 2:
            strict_base64(lines[1][len("extra ") :])
        if len(lines) <= at or not lines[at].startswith("index "):
            raise FormatError("a proof without index")
        path = tuple(strict_base64(line) for line in lines[at + 1 :])
        if len(path) > 63 or any(len(p) != 32 for p in path):
            raise FormatError("a proof whose hashes are not 32 bytes each")
        return cls(number(lines[at][len("index ") :]), path, checkpoint)
