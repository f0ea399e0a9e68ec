#!/usr/bin/env python3
"""Reads a folder written by `inkfast verify --public`, without Inkfast: C2SP tlog-tiles.

    read_public.py VKEY FOLDER

VKEY is the ledger's checkpoint key. Exit code: 0 the folder is whole, 1 it is not. Written from
https://c2sp.org/tlog-tiles and schema/FORMAT.md; needs the packages in scripts/requirements.txt.
"""

import os
import sys

from inkfast_format.findings import FormatError
from inkfast_format.leaf import parse_leaf
from inkfast_format.note import VerifierKey
from inkfast_format.tree import Checkpoint, leaf_hash, root_of

WIDTH = 256


def tile_path(kind, index, width):
    """`tile/<kind>/x001/234.p/56`."""
    groups = [f"{index % 1000:03}"]
    while index >= 1000:
        index //= 1000
        groups.insert(0, f"x{index % 1000:03}")
    part = "" if width == WIDTH else f".p/{width}"
    return f"tile/{kind}/{'/'.join(groups)}{part}"


def read(folder, path):
    """The bytes of a file of the folder."""
    try:
        with open(os.path.join(folder, path), "rb") as file:
            return file.read()
    except OSError as error:
        raise FormatError(f"{path}: {error.strerror}") from None


def tiles(folder, kind, count):
    """The tiles of a level, or of the leaves, with the number of things in each."""
    for index in range((count + WIDTH - 1) // WIDTH):
        width = min(WIDTH, count - index * WIDTH)
        yield read(folder, tile_path(kind, index, width)), width


def split_leaves(data, width):
    """The leaves of a tile, each behind its length: two bytes, big-endian."""
    found = []
    while data:
        length = int.from_bytes(data[:2], "big")
        if len(data) < 2 + length:
            raise FormatError("a tile of leaves ends within a leaf")
        found.append(data[2 : 2 + length])
        data = data[2 + length :]
    if len(found) != width:
        raise FormatError(f"a tile of leaves holds {len(found)} of {width}")
    return found


def check(vkey, folder):
    """Reads everything; the number of leaves."""
    checkpoint = Checkpoint.open(read(folder, "checkpoint"), VerifierKey.parse(vkey))
    hashes = []
    for data, width in tiles(folder, "entries", checkpoint.size):
        for leaf in split_leaves(data, width):
            if parse_leaf(leaf)[0]["seq"] != len(hashes) + 1:
                raise FormatError(f"leaf {len(hashes) + 1} has another number")
            hashes.append(leaf_hash(leaf))
    if root_of(hashes) != checkpoint.root:
        raise FormatError("the leaves have another root than the checkpoint")
    level = 0
    while hashes:
        found = b"".join(data for data, _ in tiles(folder, level, len(hashes)))
        if found != b"".join(hashes):
            raise FormatError(f"the tiles of level {level} are not over the leaves")
        full = len(hashes) // WIDTH
        hashes = [root_of(hashes[i * WIDTH : (i + 1) * WIDTH]) for i in range(full)]
        level += 1
    return checkpoint.size


if __name__ == "__main__":
    try:
        print(f"{check(*sys.argv[1:3])} leaves, as the checkpoint says")
    except FormatError as wrong:
        print(f"NOT WHOLE: {wrong}")
        sys.exit(1)
