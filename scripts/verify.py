#!/usr/bin/env python3
"""Checks an Inkfast store or package without Inkfast.

    verify.py STORE_DIR [--outside DIR] [--json]
    verify.py PACKAGE_DIR_OR_TAR [--json]

A store is checked without any reading key; no body is opened. A package must have been opened first
(`age -d -i KEY -o package.tar package.age`). Exit code: 0 sound, 1 something is wrong, 2 could not
check. Written from schema/FORMAT.md; needs Python 3.11 with the packages in
scripts/requirements.txt.
"""

import argparse
import json
import os
import sys

try:
    from inkfast_format import archive, files
    from inkfast_format.findings import CannotCheck, FormatError
    from inkfast_format.package import Package
    from inkfast_format.store import check_store
except ImportError as missing:
    print(f"verify.py: {missing}. Run scripts/install-outside-checks, then use .venv/bin/python.",
          file=sys.stderr)  # fmt: skip
    sys.exit(2)

LIMITS = {
    "store": (
        "What this shows: the entries are the ones that were sealed and signed, in that order. "
        "What it cannot show: that their contents are true, that the clock was right, that nothing "
        "was left unwritten, or, beyond what a copy kept outside proves, that the keeper of the "
        "checkpoint key did not write everything anew."
    ),
    "package": (
        "What this shows: the entries are the ones that were sealed, in that order, and none of "
        "this chart is missing up to the release entry, as far as the checkpoint key above can be "
        "trusted: compare it with one you got another way. What it cannot show: that the contents "
        "are true, that the clock was right, that nothing was left unwritten, that no later change "
        "of keys was left out, or that everything before the last checkpoint that somebody else "
        "holds a copy of was not rewritten."
    ),
}
SEALED = (b"age-encryption.org/v1", b"-----BEGIN AGE ENCRYPTED FILE-----")


def check(path, outside):
    """Finds out what `path` is, and checks it."""
    kind = files.kind_of(os.path.realpath(path))
    if kind == "folder":
        names = files.names_in(path)
        if "store.json" in names:
            return check_store(path, outside)
        if "manifest.json" in names or "manifest.note" in names:
            return Package(archive.read_folder(path), ordered=False).check()
        raise CannotCheck("this folder is neither a store nor an unpacked package")
    if kind != "file":
        raise CannotCheck("there is no such store or package")
    data = files.read(path)
    if data.startswith(SEALED):
        raise CannotCheck(
            "this package is still sealed. Open it first: age -d -i KEY_FILE -o package.tar FILE"
        )
    try:
        members = archive.read_tar(data)
    except FormatError as error:
        raise CannotCheck(f"this is not a whole package: {error}") from None
    return Package(members, ordered=True).check()


def visible(text):
    """Text from a file under test must not steer the terminal it is shown on."""
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text)


def show(report):
    """Prints a report for people."""
    for title, found in (
        ("WRONG", report.findings),
        ("NOT CHECKED", report.unchecked),
        ("note", report.notices),
    ):
        for f in found:
            about = ", ".join(
                f"{word} {value}"
                for word, value in (("entry", f.seq), ("kind", f.kind), ("chart", f.chart))
                if value is not None
            )
            about = f" ({about})" if about else ""
            print(visible(f"{title} [{f.id}] {f.where}{about}: {f.text}"))
    for id, count in report.not_shown().items():
        print(f"... and {count} more of [{id}]")
    for name, value in report.facts.items():
        print(f"{name.replace('_', ' ')}: {value}")
    print(LIMITS[report.what])
    print(
        {
            0: f"RESULT: this {report.what} is sound.",
            1: f"RESULT: something is wrong with this {report.what}. Change nothing, and keep it.",
            2: f"RESULT: this {report.what} could not be checked in full.",
        }[report.exit_code()]
    )


def main():
    """Reads the arguments; returns the exit code."""
    parser = argparse.ArgumentParser(description="Checks a store or an opened package.")
    parser.add_argument("path", help="store folder, unpacked package, or package .tar")
    parser.add_argument("--outside", help="folder with the outside copy of the checkpoint")
    parser.add_argument("--json", action="store_true", help="print the findings as JSON")
    arguments = parser.parse_args()
    sys.stdout.reconfigure(errors="backslashreplace")
    try:
        report = check(arguments.path, arguments.outside)
    except CannotCheck as error:
        return could_not(str(error), arguments.json)
    except Exception as error:  # whatever bytes it was given, this program answers in words
        return could_not(f"internal error ({type(error).__name__}): {error}", arguments.json)
    if arguments.json:
        print(json.dumps(report.as_data(), indent=1))
    else:
        show(report)
    return report.exit_code()


def could_not(text, as_json):
    """Says why nothing could be checked."""
    if as_json:
        print(json.dumps({"result": "could not check", "text": text, "findings": []}, indent=1))
    else:
        print(f"verify.py: could not check: {visible(text)}", file=sys.stderr)
    return 2


if __name__ == "__main__":
    sys.exit(main())
