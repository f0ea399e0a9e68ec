"""Works the rules of the trade out a second time, in another language and from the rule texts alone, and
compares with the program.

The rules: the example rules for retention, request clocks and trade tables shipped as
src/record/tables/*.toml with their citations (among them 45 CFR 164.508, 164.514, 164.524, 164.526, 164.528 and
164.530; CMS Pub. 100-02 ch. 15, 240.1.2 and 240.1.4; CMS Pub. 100-08 ch. 3, 3.3.2.5; 22 Tex. Admin. Code 76.2 to
76.4), and the words of each rule in tests/data/reckon/checks-given.json ("topics").

Run:  python3 tests/outside/reckon_again.py --given [FILE]
      python3 tests/outside/reckon_again.py --against BINARY [--rounds N] [--seed S] [--topic TOPIC]
A question this version holds to be unanswerable is not sent."""

import argparse
import os
import random
import re
import subprocess
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))

from reckon_again import deadlines, disclosures, findings, inputs, retention, spine, values  # noqa: E402
from reckon_again.common import GIVEN, Invalid, read_json, write_json  # noqa: E402

TOPICS = {
    "retention": retention.answer,
    "deadlines": deadlines.answer,
    "accounting": disclosures.accounting,
    "authorization": disclosures.authorization,
    "fees": disclosures.fees,
    "part": findings.part,
    "xray": findings.xray,
    "regions": spine.regions,
    "segments": spine.segments,
    "plausibility": values.plausibility,
    "change": values.change,
    "age": findings.age,
    "late_entry": findings.late_entry,
    "deidentification": findings.deidentification,
}


def given(path):
    """Every given check against this version; the number that differ."""
    with open(path, encoding="utf-8") as file:
        checks = read_json(file.read())["checks"]
    wrong = 0
    for check in checks:
        try:
            got = TOPICS[check["topic"]](check["input"])
        except Invalid as error:
            got = {"invalid": str(error)}
        if got != check["expect"]:
            wrong += 1
            print(f"{check['id']}: {write_json(check['input'])}")
            print(f"  expected {write_json(check['expect'])}\n  got      {write_json(got)}")
    print(f"{len(checks)} given checks, {wrong} differ")
    return wrong


def questions(topic, rounds, chance):
    """Answerable questions with this version's answers."""
    made = []
    for _ in range(rounds):
        question = inputs.MAKERS[topic](chance)
        try:
            made.append((question, TOPICS[topic](question)))
        except Invalid:
            continue
    return made


def ask(binary, topic, batch):
    """The program's answers to a batch. One question it refuses leaves the whole batch unanswered and is named
    by its number, so the batch is sent again without it."""
    replies = [None] * len(batch)
    left = list(range(len(batch)))
    while left:
        sent = write_json([batch[number][0] for number in left])
        run = subprocess.run([binary, "reckon", topic, "--input", "-", "--json"], input=sent,
                             capture_output=True, text=True, encoding="utf-8")
        if run.returncode == 0:
            for number, reply in zip(left, read_json(run.stdout), strict=True):
                replies[number] = reply
            break
        words = why(run)
        named = re.match(r"Question (\d+) of \d+ [^:]*: ", words)
        refused = left[int(named[1]) - 1] if named else None
        if refused is None or "not worked out yet" in words:
            return [{"not answered": words}] * len(batch)
        replies[refused] = {"not answered": words[named.end():]}
        left.remove(refused)
        if len(batch) - len(left) > 100:
            raise SystemExit(f"{topic}: more than a hundred questions refused, lastly: {words}")
    return replies


def why(run):
    """The program's own words for refusing a batch."""
    try:
        return read_json(run.stdout or run.stderr)["error"]["what"]
    except (ValueError, KeyError):
        return (run.stderr or run.stdout).strip()


def settled(reply):
    """The lines of an accounting are ordered by first day and recipient; lines alike in both may stand in any
    order."""
    if "lines" not in reply:
        return reply
    lines = reply["lines"]
    tied = sorted(lines, key=lambda l: (l["first"], l["recipient"], l["purpose"], l["last"], l["count"]))
    keys = [(line["first"], line["recipient"]) for line in lines]
    return reply | {"lines": tied if keys == sorted(keys) else lines}


def shape(expected, got):
    """What kind of difference it is, so that one of each kind is shown."""
    if "not answered" in got:
        return re.sub(r'"[^"]*"', "...", got["not answered"])
    names = sorted(set(expected) | set(got))
    return str([n for n in names if expected.get(n, "absent") != got.get(n, "absent")])


def against(binary, topics, rounds, seed, show):
    wrong = 0
    for topic in topics:
        batch = questions(topic, rounds, random.Random(f"{seed}/{topic}"))
        replies = ask(binary, topic, batch)
        refused = sum("not answered" in reply for reply in replies)
        if refused == len(replies) and batch:
            print(f"{topic}: {replies[0]['not answered']}")
            wrong += 1
            continue
        differ = [(q, e, g) for (q, e), g in zip(batch, replies) if settled(e) != settled(g)]
        wrong += len(differ)
        print(f"{topic}: {len(batch)} questions, {len(differ)} differ")
        differ.sort(key=lambda row: len(write_json(row[0])))
        seen = {}
        for question, expected, got in differ:
            kind = (question.get("ask"), question.get("measure"), shape(expected, got))
            seen[kind] = seen.get(kind, 0) + 1
            if seen[kind] <= show:
                print(f"  asked    {write_json(question)}\n  expected {write_json(expected)}\n"
                      f"  got      {write_json(got)}\n")
        for kind, count in seen.items():
            print(f"  {count} of kind {kind}")
    return wrong


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--given", nargs="?", const=GIVEN, metavar="FILE")
    parser.add_argument("--against", metavar="BINARY")
    parser.add_argument("--rounds", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--show", type=int, default=2, help="differences shown of each kind")
    parser.add_argument("--topic", action="append", choices=sorted(TOPICS))
    chosen = parser.parse_args()
    if not chosen.given and not chosen.against:
        parser.error("--given or --against")
    wrong = given(chosen.given) if chosen.given else 0
    if chosen.against:
        wrong += against(chosen.against, chosen.topic or list(TOPICS), chosen.rounds, chosen.seed,
                         chosen.show)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
