"""How much of a chart a package gives (FORMAT.md section 8, "Extent"): what was asked for, what is
withheld and why, and what differs since an earlier package."""

import re

from .findings import FormatError
from .leaf import is_number

REASONS = {"another-person", "psychotherapy-notes", "for-proceeding", "likely-harm",
           "restriction-agreed", "outside-request", "misfiled", "held-back"}  # fmt: skip
OUTSIDE, OUTSIDE_SLIP = "outside-request", "slips/outside-what-was-asked.txt"
# What each sort of difference says in differences.txt.
DIFFERENCES = {
    "added-after": "written after the earlier package",
    "corrected-since": "corrected or added to since; the earlier words are still there",
    "span-changed": "other dates or kinds were asked for",
    "withheld-now": "given then, withheld now",
    "given-now": "withheld then, given now",
    "reason-changed": "withheld then and now, for another reason",
    "file-changed": "another content than then",
    "file-added": "not in the earlier package",
    "file-gone": "in the earlier package only",
    "layout-changed": "from the same entries the program now makes another page",
}


def _is_day(value):
    return isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", value) is not None


def read_extent(manifest):
    """The form of the fields that may be there."""
    for line in manifest["entries"]:
        if line.get("reason", OUTSIDE) not in REASONS:
            raise FormatError("a reason for withholding in the manifest is none of the known ones")
    span = manifest.get("span")
    if "span" in manifest:
        if not isinstance(span, dict) or not set(span) <= {"from", "until", "days", "kinds"}:
            raise FormatError("`span` in the manifest is none")
        kinds = span.get("kinds", [])
        if not isinstance(kinds, list) or not all(isinstance(k, str) for k in kinds):
            raise FormatError("`kinds` in the manifest's span is no list of kinds")
        days = span.get("days", [])
        if not isinstance(days, list) or not all(_is_day(day) for day in days):
            raise FormatError("`days` in the manifest's span is no list of days")
        if not all(_is_day(span[x]) for x in ("from", "until") if x in span):
            raise FormatError("a day in the manifest's span is none")
    if "differences" in manifest:
        _read_differences(manifest["differences"])


def _read_differences(differences):
    wrong = FormatError("`differences` in the manifest is none")
    if not isinstance(differences, dict) or not {"since"} <= set(differences) <= {"since", "list"}:
        raise wrong
    if not is_number(differences["since"]) or not isinstance(differences.get("list", []), list):
        raise wrong
    for one in differences.get("list", []):
        if not isinstance(one, dict) or not {"what"} <= set(one) <= {"what", "entry", "by", "file"}:
            raise wrong
        if one["what"] not in DIFFERENCES:
            raise FormatError("a difference in the manifest is of no known sort")
        if not all(is_number(one[x]) for x in ("entry", "by") if x in one):
            raise wrong
        if not isinstance(one.get("file", ""), str):
            raise wrong


def differences_text(differences, release):
    """The text of differences.txt."""
    out = (
        f"What differs in this package (release {release}) from the package of release "
        f"{differences['since']}\n\n"
    )
    if not differences.get("list"):
        out += "Nothing, but for this release itself.\n"
    for one in differences.get("list", []):
        line = "- "
        if "entry" in one:
            line += f"entry {one['entry']}: "
        if "file" in one:
            line += f"{one['file']}: "
        line += DIFFERENCES[one["what"]]
        if "by" in one:
            line += f" (entry {one['by']})"
        out += line + "\n"
    return out + (
        "\nNo entry of the earlier package was changed or removed: every entry is still the one "
        "that was sealed,\nas the check of this package shows.\n"
    )


def _asked(span, record):
    """True when a record was asked for: its date lies in the span or is a single day of it, and its kind fits."""
    happened = record["happened"]
    first = happened["start"][:10]
    last = happened["end"][:10] if happened.get("end") else first
    kinds = span.get("kinds") or [record["kind"]]
    ranged = "from" in span or "until" in span
    in_span = ranged and span.get("from", first) <= last and first <= span.get("until", first)
    on_a_day = any(first <= day <= last for day in span.get("days", []))
    any_date = not ranged and not span.get("days")
    return (any_date or in_span or on_a_day) and record["kind"] in kinds


def check_extent(report, manifest, records, files):
    """Everything said about the extent fits the entries that are there."""
    release = records.get(manifest["release"], {}).get("data")
    release = release if isinstance(release, dict) else None
    _check_withheld(report, manifest, release, files)
    _check_span(report, manifest, release, records)
    _check_differences(report, manifest, release, files)


def _at(line):
    return f"entries/{line['chart_seq']:06d}.leaf"


def _check_withheld(report, manifest, release, files):
    slips = set()
    for line in manifest["entries"]:
        reason = line.get("reason")
        slip = None
        if reason is not None:
            slip = OUTSIDE_SLIP if reason == OUTSIDE else f"slips/{line['chart_seq']:06d}.txt"
            slips.add(slip)
        said = bool(line.get("withheld", "").strip())
        if ("withheld" in line) != (reason is not None) or said != (reason is not None):
            report.wrong("withheld", _at(line), "reason and words do not both stand in the manifest")
        if line.get("slip") != slip or (slip is not None and slip not in files):
            report.wrong("withheld", _at(line), "the slip in its place is another one, or missing")
    for name in sorted(files):
        if name.startswith("slips/") and name not in slips:
            report.wrong("withheld", name, "a slip in the place of no withheld entry")
    if release is None:
        return
    recorded = {
        x.get("entry"): (x.get("reason"), x.get("ground"))
        for x in release.get("withheld", [])
        if isinstance(x, dict) and x.get("entry") is not None
    }
    for line in manifest["entries"]:
        listed = (line.get("reason"), line["withheld"]) if "withheld" in line else None
        if listed is not None and listed[0] == OUTSIDE:
            listed = None
        if listed != recorded.get(line["seq"]):
            report.wrong("withheld", _at(line), "the release entry does not say the same of it")


def _check_span(report, manifest, release, records):
    span = manifest.get("span")
    if span is None:
        for line in manifest["entries"]:
            if "supports" in line or line.get("reason") == OUTSIDE:
                report.wrong("span", _at(line), "the manifest says that all was asked for")
        return
    entries = manifest["entries"]
    given = {x["seq"] for x in entries if "withheld" not in x}
    left_out = {x["seq"] for x in entries if x.get("reason") == OUTSIDE}
    counted = {x["seq"] for x in entries}
    any_date = "from" not in span and "until" not in span and not span.get("days")
    for line in entries:
        if line["seq"] == manifest["release"]:
            continue
        reason, supports = line.get("reason"), line.get("supports")
        if reason == OUTSIDE:
            any_kind = not span.get("kinds") or line["kind"] in span["kinds"]
            fits = supports is None and not (any_date and any_kind)
        elif reason is not None:
            fits = supports is None
        elif supports is not None:
            fits = supports in counted - left_out
        else:
            fits = line["seq"] not in records or _asked(span, records[line["seq"]])
        if not fits:
            report.wrong("span", _at(line), "does not fit what the manifest says was asked for")
    if release is None:
        return
    what = release.get("what", {})
    said = [what.get(x) or None for x in ("from", "until", "days", "kinds")]
    if said != [span.get(x) or None for x in ("from", "until", "days", "kinds")]:
        report.wrong("span", "manifest.json", "the release entry says that something else was asked for")
    if set(what.get("entry_list", [])) | {manifest["release"]} != given:
        report.wrong("span", "manifest.json", "the release entry lists other entries as given")


def _check_differences(report, manifest, release, files):
    name, differences = "differences.txt", manifest.get("differences")
    text = None
    if differences is not None:
        text = differences_text(differences, manifest["release"]).encode()
    if files.get(name) != text:
        report.wrong("differences", name, "not the list that the manifest holds")
    since = differences["since"] if differences is not None else None
    if release is not None and release.get("what", {}).get("since") != since:
        report.wrong("differences", "manifest.json", "the release entry names another earlier release")
    if differences is None:
        return
    kinds = {x["seq"]: x["kind"] for x in manifest["entries"]}
    if since >= manifest["release"] or kinds.get(since) != "release":
        report.wrong("differences", "manifest.json", "not since an earlier release of this chart")
    added = {x.get("entry") for x in differences.get("list", []) if x["what"] == "added-after"}
    for line in manifest["entries"]:
        later = line["seq"] > since and line["seq"] != manifest["release"]
        if later != (line["seq"] in added):
            report.wrong("differences", _at(line), "is listed as added after, and was not, or was and is not")
    for one in differences.get("list", []):
        for seq in (one.get("entry"), one.get("by")):
            if seq is not None and seq not in kinds:
                report.wrong("differences", "manifest.json", f"speaks of entry {seq}, which is not here")
