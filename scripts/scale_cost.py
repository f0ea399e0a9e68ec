#!/usr/bin/env python3
"""What a million entries cost on a store of objects (schema/SCALE.md). Every input can be given anew.

    scale_cost.py [--put USD] [--get USD] [--month USD] [--entry BYTES] [--checkpoint BYTES] [--stations N]
"""

import argparse

inputs = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
add = inputs.add_argument
add("--put", type=float, default=0.005, help="price of 1,000 creates, USD (default %(default)s: one provider's list price, from memory)")
add("--get", type=float, default=0.0004, help="price of 1,000 reads, USD (default %(default)s: as above)")
add("--month", type=float, default=0.023, help="price of a GB kept for a month, USD (default %(default)s: as above)")
add("--entry", type=int, default=2310, help="bytes of an entry's frame (default %(default)s: measured, 2.3 kB records)")
add("--checkpoint", type=int, default=240, help="bytes of a checkpoint's frame (default %(default)s: measured)")
add("--stations", type=int, default=4, help="stations that read along (default %(default)s)")
given = inputs.parse_args()

ENTRIES = 1_000_000
# A commit looks for the next group, creates it, and reads it again: tests/common/sequencer.rs.
PUTS, GETS = 1, 2

print("| entries a group | groups | creates | reads by the writer | reads by the others | kept, a year | together, first year |")
print("|---|---|---|---|---|---|---|")
for size in (1, 10, 100):
    groups = ENTRIES // size
    put = groups * PUTS / 1000 * given.put
    get = groups * GETS / 1000 * given.get
    others = groups * (given.stations - 1) / 1000 * given.get
    stored = (ENTRIES * given.entry + groups * given.checkpoint) / 1e9
    kept = stored * given.month * 12
    print(f"| {size} | {groups:,} | {put:.2f} | {get:.2f} | {others:.2f} | {kept:.2f} ({stored:.2f} GB) | {put + get + others + kept:.2f} USD |")
