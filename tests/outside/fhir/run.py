"""Checks the FHIR documents of every chart of the demonstration, and of every package handed over in it,
with programs that share no code with this one; then that the same checks refuse wrong ones.

    .venv/bin/python tests/outside/fhir/run.py INKFAST

Exit 0: all as it must be; 1: something is wrong; 2: a check could not be run (never skipped)."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import tarfile
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent


def stop(why: str) -> None:
    """A check that can't be run is a failure, never a pass."""
    print(f"fhir: {why}\nRun scripts/install-outside-checks.", file=sys.stderr)
    sys.exit(2)


try:
    import second
except ImportError as error:
    stop(f"the second opinion can't be loaded: {error}")
from wrong import wrong_documents


def run(*words: str | Path, ok: tuple[int, ...] = (0,)) -> bytes:
    try:
        done = subprocess.run([str(word) for word in words], capture_output=True, check=False)
    except OSError as error:
        stop(f"{words[0]} can't be run: {error}")
    if done.returncode not in ok:
        err = done.stderr.decode(errors="replace")
        print(f"fhir: {' '.join(map(str, words))} ended with {done.returncode}\n{err}", file=sys.stderr)
        sys.exit(2)
    return done.stdout


def judged(files: list[Path]) -> list[list[dict[str, str]]]:
    """The faults of each file, by all checks together."""
    out = run("node", HERE / "check.mjs", *files, ok=(0, 1)).decode().splitlines()
    if len(out) != len(files):
        stop(f"check.mjs judged {len(out)} of {len(files)} documents")
    all_faults = []
    for file, line in zip(files, out):
        text = file.read_text()
        all_faults.append(json.loads(line) + second.faults(text, json.loads(text)))
    return all_faults


def printed(inkfast: str, demo: Path, into: Path) -> list[Path]:
    """The document of every chart; the first is printed twice, and must have the same bytes."""
    who = ["--store", demo / "store", "--as", "IV", "--passphrase-file", demo / "passphrase-IV.txt"]
    charts = json.loads(run(inkfast, "patient", "list", *who, "--json"))
    files = []
    for chart in charts:
        number = chart["chart_no"]
        files.append(into / f"{number}.json")
        run(inkfast, "print", number, *who, "--why", "review", "--fhir", files[-1])
    again = into / "again.out"
    run(inkfast, "print", charts[0]["chart_no"], *who, "--why", "review", "--fhir", again)
    if again.read_bytes() != files[0].read_bytes():
        print(f"fhir: {files[0].stem}: two documents of the same chart differ")
        sys.exit(1)
    return files


def handed_over(demo: Path, into: Path) -> list[Path]:
    """The document in every package that was sealed to a key."""
    files = []
    for key in sorted((demo / "handed-over").glob("*.identity.txt")):
        package = next(key.parent.glob(key.name.removesuffix(".identity.txt") + ".*age"))
        with tarfile.open(fileobj=io.BytesIO(run("age", "-d", "-i", key, package))) as archive:
            member = archive.extractfile("fhir/bundle.json")
            assert member is not None
            file = into / f"package-{package.stem}.json"
            file.write_bytes(member.read())
            files.append(file)
    return files


def right_ones(files: list[Path]) -> bool:
    good = True
    for file, faults in zip(files, judged(files)):
        for fault in faults[:20]:
            print(f"fhir: {file.name}: {fault['check']}: {fault['where']}: {fault['what']}")
        good &= not faults
    return good


def kinds(file: Path) -> Counter[str]:
    entries: list[dict[str, Any]] = json.loads(file.read_text())["entry"]
    return Counter(entry["resource"]["resourceType"] for entry in entries)


def wrong_ones(right: Path, into: Path) -> bool:
    """Every wrong document must be refused, and by a check that is meant to."""
    cases = wrong_documents(json.loads(right.read_text()))
    files = []
    for at, (_, document, _) in enumerate(cases):
        files.append(into / f"wrong-{at:02}.json")
        files[-1].write_text(json.dumps(document))
    good = True
    for (name, _, meant), faults in zip(cases, judged(files)):
        by = {fault["check"] for fault in faults}
        if not by & meant:
            good = False
            print(f"fhir: NOT REFUSED as it should be: {name} (by {sorted(by) or 'nothing'})")
    print(f"fhir: {len(cases)} wrong documents made from {right.name}")
    return good


def main(inkfast: str) -> int:
    with tempfile.TemporaryDirectory() as folder:
        into = Path(folder)
        demo = into / "demo"
        run(inkfast, "demo", "--into", demo)
        files = printed(inkfast, demo, into) + handed_over(demo, into)
        if not any(file.name.startswith("package-") for file in files):
            stop("no package of the demonstration could be looked at")
        counted = sum((kinds(file) for file in files), Counter())
        print(f"fhir: {len(files)} documents; {dict(sorted(counted.items()))}")
        good = right_ones(files)
        # The one with most kinds of resource; the shorter where several have as many.
        richest = max(files, key=lambda file: (len(kinds(file)), -file.stat().st_size))
        good &= wrong_ones(richest, into)
    return 0 if good else 1


if __name__ == "__main__":
    if len(sys.argv) != 2:
        stop("usage: run.py INKFAST")
    sys.exit(main(sys.argv[1]))
