"""What scripts/faults tries: the commands that write, what each begins with, and what is asked of it beyond what is
asked of all (nothing lost, nothing in part, sound, and the next entry can be added)."""

import filecmp
import json
import re
import shutil
from dataclasses import dataclass
from typing import Callable, Optional

CHART, OLD_CHART = "PM-0112", "PM-0003"
CONTACT = ["contact", CHART, "--channel", "telephone", "--direction", "incoming", "--with", "the patient",
           "--checked", "birth date", "--said"]
INIT = ["init", "--new-passphrase-file", "pw", "--code", "IV", "--name", "Ingrith Valsamo", "--role", "chiropractor",
        "--techniques", "examination,soft-tissue", "--licence", "LM-C-0417", "--licence-last-day", "2099-12-31",
        "--practice", "The Ropewalk Rooms", "--address", "14 Hemp Lane, Pellmere", "--territory", "Lower Marl",
        "--clock", "UTC-5, summer time -4", "--example-rules"]
UNLOCK = ["unlock", "--as", "IV", "--passphrase-file", "pw", "--without-pin"]
RELEASE = ["release", CHART, "--unsealed", "--confirm-unsealed", "--file", "package.tar", "--recipient-name",
           "Bettony Craske", "--no-address-because", "fetched here", "--basis", "patient", "--asked-on", "2025-03-10",
           "--channel", "handed over", "--not-checked-because", "nobody else here"]
HOLD = ["hold", "place", CHART, "--reason", "a dispute", "--from-whom", "counsel", "--scope", "chart"]
PAPER = ["attach", CHART, "paper.txt", "--title", "a paper", "--made-unknown-because", "not said",
         "--maker-unknown-because", "not said", "--original", "kept", "--legible", "yes"]
ATTACH = [*PAPER, "--kind", "letter", "--not-made-here", "no"]
CORRECT = ["correct", CHART, "--entry", "{contact}", "--field", "/said", "--is", "early", "--because", "slip",
           "--care-affected", "no", "--not-told-because", "no need"]
SIGN = ["sign", CHART, "--acknowledge-missing", "--answer", "finding-not-followed:1=next time", "--answer",
        "finding-not-followed:2=next time"]
COPY = ["safecopy", "../copy", "--called", "the stick"]
RESTORED = ["--store", "../new", "--outside", "../outside-of-new"]
TREATS = ["--role", "chiropractor", "--techniques", "soft-tissue", "--licence", "LM-C-0688", "--licence-last-day",
          "2099-12-31"]


def patient(chart, name, born):
    return ["patient", "open", "--chart-no", chart, "--name", name, "--born", born, "--second-identifier", "telephone",
            "--identifier", chart, "--no-emergency-contact-because", "wants none", "--looked-for-same-name", "yes",
            "--seen", "licence-card,birth-date", "--privacy-notice", "given"]


def hire(code, name, file, *more):
    return ["roster", "add", "--code", code, "--name", name, "--new-passphrase-file", file, *more]


@dataclass
class Tried:
    """A command, and what runs first on every fresh copy of the store."""
    words: list
    before: tuple = ()
    # Whether some of its entries may be there without the others.
    by_steps: bool = False
    # What is asked of it alone: called with the desk, this, whether it was acknowledged and how many entries are
    # there; says what is wrong.
    after: Optional[Callable] = None
    # Findings that `verify` may have beyond none: what is half done by design is named.
    found: tuple = ()
    # Around the whole sweep of it.
    begin: Callable = lambda desk: None
    end: Callable = lambda desk: None


def secrets(desk):
    """The files that lie beside the store before anything else."""
    for name, said in [("pw", "fourteen hemp lane"), ("pw2", "cheese cellar key, twice over"),
                       ("pw3", "seven blue boats, twice over")]:
        (desk.work / name).write_text(said + "\n")
        (desk.work / name).chmod(0o600)
    (desk.work / "paper.txt").write_text("held up to the light\n")


def set_up(desk):
    """A small practice: two people beside the owner, a visit with a half-written note, an old paper chart that need
    not be kept any more, a release. Gives the number of an entry that may be corrected."""
    desk.must(INIT)
    desk.must(UNLOCK)
    desk.must(patient(CHART, "Bettony Craske", "1988-07-23"))
    desk.must(["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"])
    desk.must(["note", CHART, "C5-6 R tender"])
    contact = json.loads(desk.must([*CONTACT, "before it", "--json"]))["entry"]
    desk.must(RELEASE)
    (desk.work / "package.tar").unlink()
    desk.must(patient(OLD_CHART, "Silas Umberlow", "1949-02-11"))
    desk.must(["paper", "index", OLD_CHART, "--name", "S. Umberlow", "--pages", "14", "--kept-at", "cabinet C2",
               "--last-treated", "2016-05-19"])
    desk.must(hire("HL", "Hattie Lorch", "pw2", "--role", "desk", "--opens", "desk"))
    desk.must(hire("NN", "Nele Norrgard", "pw3", *TREATS))
    page = (desk.work / "recovery-sheet.html").read_text()
    (desk.work / "sheet").write_text(re.search(r'class="key">([^<]*)<', page)[1])
    (desk.work / "sheet").chmod(0o600)
    rules = desk.must(["rules", "example"]).replace('edition = "example-1"', 'edition = "ours-2"')
    (desk.work / "rules.toml").write_text(rules)
    desk.must(["safecopy", "../first-copy", "--called", "the first"])
    return str(contact)


# What runs first.

def without(*names):
    """Nothing of these is there, beside the desk."""
    def gone(desk):
        for name in names:
            shutil.rmtree(desk.folder / name, ignore_errors=True)
    return gone


def without_index(desk):
    shutil.rmtree(desk.work / "store/index", ignore_errors=True)


def behind(desk):
    """The store of before an entry, beside a copy of its end that knows the entry."""
    shutil.copytree(desk.work / "store", desk.work / "earlier")
    desk.must([*CONTACT, "lost since"])
    shutil.rmtree(desk.work / "store")
    (desk.work / "earlier").rename(desk.work / "store")


# What is asked afterwards.

def again(desk, tried, acknowledged, more):
    """What left nothing can be done: the same words, once more."""
    if acknowledged or more:
        return None
    done = desk.run(tried.words)
    return None if done.returncode == 0 else f"doing it again ended with {done.returncode}: {tail(done)}"


def tail(done):
    return (done.stdout + done.stderr)[-400:]


def opens(desk, code, file):
    return desk.run(["patient", "list", "--as", code, "--passphrase-file", file]).returncode == 0


def package(desk, tried, acknowledged, more):
    if not acknowledged:
        return None
    done = desk.run_check("package.tar")
    return f"the package is not accepted: {tail(done)}" if done.returncode else None


def hired(desk, tried, acknowledged, more):
    """Whoever is on the roster opens what they may; whoever is not can be put there."""
    return again(desk, tried, acknowledged, more) or \
        (None if opens(desk, "ZK", "pw3") else "on the roster, and the passphrase opens nothing")


def one_passphrase(desk, tried, acknowledged, more):
    """The new one opens, or the old one does; never neither, and never both."""
    new, old = opens(desk, "IV", "pw3"), opens(desk, "IV", "pw")
    if new == old:
        return "both passphrases open" if new else "neither passphrase opens"
    unlocked(desk, "pw3" if new else "pw")
    return "it was said to be changed, and is not" if acknowledged and not new else None


def handed_over(desk, tried, acknowledged, more):
    """There is one keeper: who handed over is none any more, or still is and can hand over."""
    second = desk.run(tried.words)
    expected = 7 if more else 0
    return None if second.returncode == expected else f"handing over again ended with {second.returncode}: {tail(second)}"


def taken_over(desk, tried, acknowledged, more):
    return again(desk, tried, acknowledged, more) or (None if opens(desk, "ZK", "pw3") else "the new keeper opens nothing")


def destroyed(desk, tried, acknowledged, more):
    """The chart is whole, and can be destroyed; or it is ordered to be, and then that can be finished, and nothing
    opens it."""
    # Looking at the chart before is an entry of its own, so that entries alone do not say which it is.
    unlocked(desk, "pw")
    if not acknowledged and "Umberlow" in desk.run(["print", OLD_CHART, "--why", "review"]).stdout:
        again = desk.run(tried.words)
        acknowledged = True
        if again.returncode:
            return f"the chart is whole, and destroying it ended with {again.returncode}: {tail(again)}"
        unlocked(desk, "pw")
    finish = desk.run(["dispose", "finish"])
    if finish.returncode:
        return f"it can't be finished: {tail(finish)}"
    unlocked(desk, "pw")
    if acknowledged and "No destruction" not in finish.stdout:
        return f"it was said to be destroyed, and something was left: {tail(finish)}"
    if acknowledged and "Umberlow" not in (desk.work / "certificate.html").read_text():
        return "the certificate is not there"
    gone = json.loads(desk.must(["keep", "disposed", "--json"]))
    shown = desk.run(["print", OLD_CHART, "--why", "review"])
    if len(gone) != 1 or shown.returncode == 0 or "disposed of" not in tail(shown):
        return f"it is not gone: {gone} {tail(shown)}"
    return None


def unlocked(desk, file):
    """Some commands end what was unlocked."""
    if desk.run(["patient", "list"]).returncode:
        desk.must([*UNLOCK[:4], file, *UNLOCK[5:]])


def drafted(desk, tried, acknowledged, more):
    """The line of before is in the draft whatever happened, and the new one where that was said."""
    signed = desk.run(SIGN)
    if signed.returncode:
        return f"the draft can't be signed: {tail(signed)}"
    shown = desk.must(["print", CHART, "--why", "review"]).lower()
    if "tender" not in shown:
        return "the earlier line is not there"
    return "the line is not there" if acknowledged and "tight" not in shown else None


def copied(desk, tried, acknowledged, more):
    """What was said to be copied is; what was not can be."""
    if not acknowledged:
        done = desk.run(tried.words)
        if done.returncode:
            return f"copying again ended with {done.returncode}: {tail(done)}"
    return copy_is_sound(desk)


def copied_again(desk, tried, acknowledged, more):
    """The earlier copy or the new one is there, whatever happened; and it can be copied again."""
    return copy_is_sound(desk) or copied(desk, tried, acknowledged, more)


def copy_is_sound(desk):
    done = desk.run(["rehearse", "../copy", "--sheet-file", "sheet"])
    return None if done.returncode == 0 else f"the copy does not come back: {tail(done)}"


def restored(desk, tried, acknowledged, more):
    """All entries of the copy are in the new store, or restoring again says why not, and works in a new folder."""
    if not acknowledged:
        done = desk.run(tried.words)
        if done.returncode:
            if done.returncode not in (2, 7) or "Next:" not in tail(done):
                return f"restoring again ended with {done.returncode}: {tail(done)}"
            without("new", "outside-of-new")(desk)
            done = desk.run(tried.words)
            if done.returncode:
                return f"restoring into a new folder ended with {done.returncode}: {tail(done)}"
    done = desk.run(["verify", *RESTORED])
    if done.returncode:
        return f"the restored store is not sound: {tail(done)}"
    kept = desk.entries_in(desk.folder / "first-copy/ledger")
    return None if desk.entries_in(desk.folder / "new/ledger") == kept else "entries of the copy are missing"


def public(desk, tried, acknowledged, more):
    """Running it again adds what is missing; then all is as when nothing fails."""
    if not acknowledged:
        done = desk.run(tried.words)
        if done.returncode:
            return f"again it ended with {done.returncode}: {tail(done)}"
    whole = desk.folder / "public-whole"
    if not whole.exists():
        desk.must(["verify", "--public", "../public-whole"])
    return None if same_tree(whole, desk.folder / "public") else "what was written for everybody is another thing"


def same_tree(one, other):
    compared = filecmp.dircmp(one, other)
    if compared.left_only or compared.right_only:
        return False
    _, differ, odd = filecmp.cmpfiles(one, other, compared.common_files, shallow=False)
    return not differ and not odd and all(same_tree(one / name, other / name) for name in compared.common_dirs)


def commands():
    """Every command that is tried, by its name in the list."""
    zita = ["--code", "ZK", "--name", "Zita Kestrel", "--new-passphrase-file", "pw3", *TREATS]
    return {
        "append": Tried([*CONTACT, "will be late"], after=again),
        "attach": Tried(ATTACH, after=again),
        "correct": Tried(CORRECT, after=again),
        # What is brought in: a paper chart of before, and what others kept.
        "old paper": Tried(["paper", "index", CHART, "--name", "B. Craske", "--pages", "9", "--kept-at", "cabinet C2",
                            "--last-treated", "2024-05-19"], after=again),
        "record from elsewhere": Tried([*PAPER, "--kind", "record-from-elsewhere", "--not-made-here", "yes", "--pages", "9"],
                                       after=again),
        "release": Tried(RELEASE, by_steps=True, after=package),
        "close of day": Tried(["slip"], after=again),
        "new keys": Tried(["roster", "renew"]),
        "safe copy": Tried(COPY, (without("copy"),), after=copied),
        "safe copy, a later one": Tried(COPY, (without("copy"), COPY, [*CONTACT, "since"]), after=copied_again),
        "hold": Tried(HOLD, after=again),
        "index rebuild": Tried(RELEASE, (without_index,), by_steps=True, after=package),
        "new patient": Tried(patient("PM-0139", "Nadezhda Pruitt", "1972-01-05"), after=again),
        "draft": Tried(["note", CHART, "lumbar L tight"], after=drafted),
        "sign": Tried(SIGN, (["note", CHART, "lumbar L tight"],), after=again),
        "request": Tried(["request", "take", CHART, "--from", "Bettony Craske", "--text", "all of it", "--kind", "copy",
                          "--checked", "seen"], after=again),
        "office file": Tried(["office", "add", "paper.txt", "--kind", "attorney-letter", "--title", "a letter",
                              "--words", "asks"], after=again),
        "rules": Tried(["rules", "adopt", "rules.toml"], after=again),
        "hand-over": Tried(["custody", "hand-over", "--to", "NN", "--event", "sale", "--reason", "sold", "--kept-at",
                            "14 Hemp Lane"], after=handed_over),
        "behind": Tried(["slip", "behind", "--because", "an older disk"], (behind,), found=("behind-outside-copy",), after=again),
        "restore": Tried(["restore", "../first-copy", *RESTORED[1:2], *RESTORED[2:]], (without("new", "outside-of-new"),),
                         after=restored),
        "public leaves": Tried(["verify", "--public", "../public"], (without("public"),), after=public),
        "added while locked": Tried([*CONTACT, "will be late"], after=again,
                                    begin=lambda desk: desk.must(["lock", "--add-only"]),
                                    end=lambda desk: (desk.run(["lock"]), desk.must(UNLOCK))),
        # These stretch a passphrase, a second each: they take as long as all the others.
        "dispose": Tried(["dispose", "chart", OLD_CHART, "--destroy", "--as", "IV", "--passphrase-file", "pw", "--second",
                          "HL", "--second-passphrase-file", "pw2", "--no-other-copies", "--into", "certificate.html"],
                         by_steps=True, after=destroyed),
        "roster": Tried(hire("ZK", "Zita Kestrel", "pw3", *TREATS), after=hired),
        "passphrase": Tried(["roster", "passphrase", "--as", "IV", "--passphrase-file", "pw", "--new-passphrase-file",
                             "pw3"], after=one_passphrase),
        "take-over": Tried(["custody", "take-over", "--recovery-file", "sheet", *zita, "--event", "death", "--reason",
                            "died", "--kept-at", "3 Ferry Steps"], after=taken_over),
    }
