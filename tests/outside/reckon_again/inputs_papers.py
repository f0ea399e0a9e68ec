"""Questions about requests, disclosures, authorizations and fees."""

from .chance import (DAY, OFFSETS, anniversary, date, flip, instant, maybe, near, shifted, sometimes,
                     subset)
from .common import Invalid, day
from .deadlines import CLOCKS, Counted
from .disclosures import ACCOUNTING, AT_REQUEST, KINDS, state


def holidays(chance, start):
    """Some days that are not working days, in the stretch a clock runs through."""
    odds = chance.choice([0, 0, 1, 4, 12])
    days = [str(start + chance.randint(0, 100) * DAY) for _ in range(odds)]
    if flip(chance, 0.2):
        days += [str(start + n * DAY) for n in range(28, 40)]
    return days


def deadlines(chance):
    ask = chance.choice(["due", "extension", "acted", "earliest"])
    start = date(chance, 2015, 2030)
    question = {"ask": ask}
    if flip(chance, 0.7):
        question["received"] = str(start)
    else:
        question |= {"received_at": instant(chance, start),
                     "practice_offset": chance.choice(OFFSETS[1:])}
    if flip(chance, 0.4):
        question["requested"] = str(start - chance.choice([0, 1, 3, 40, -1, -5]) * DAY)
    sometimes(chance, question, "holidays", holidays(chance, start), 0.9)
    if question.get("holidays", 0) is None:
        del question["holidays"]
    if ask == "earliest":
        question["clocks"] = chance.sample(list(CLOCKS), chance.randint(1, 4))
        return question
    question["clock"] = chance.choice(list(CLOCKS) + ["uk-access", "us-hipaa-access"] * 4)
    counted = Counted(question["clock"], question)
    if ask == "due":
        return question
    due = counted.due
    if ask == "extension" or flip(chance):
        sent = question["extension"] = extension(chance, counted)
        if flip(chance, 0.7):
            question["earlier_extensions"] = chance.choice([0, 0, 0, 1, 2])
        due = counted.extend(sent, question.get("earlier_extensions", 0))[1]
    elif flip(chance):
        question["extension"] = None
    if ask == "acted":
        question["acted"] = str(near(chance, due, chance.choice([1, 60])))
    return question


def extension(chance, counted):
    """A notice that names no day up to the first due date: whether that extends anything is not said."""
    limit = counted.limit or counted.due + 30 * DAY
    new_date = chance.choice([near(chance, limit), limit, near(chance, limit, 20)])
    return {
        "sent": str(max(counted.start, near(chance, counted.due, chance.choice([1, 14])))),
        "in_writing": flip(chance, 0.8),
        "reasons": chance.choice(["scans must be made"] * 6 + ["", "  ", "\t\n"]),
        "new_date": maybe(chance, str(max(new_date, counted.due + DAY)), 0.8),
    }


PLACES = ["county court", "health department", "Board of Manual Practice"]
PURPOSES = ["case 114", "outbreak report", "audit"]


def accounting(chance):
    ask = chance.choice(["window", "classify", "line", "charge", "suspension", "list", "list"])
    return {"ask": ask} | ACCOUNTING_MAKERS[ask](chance)


def window(chance):
    requested = date(chance, 2012, 2032)
    shorter = min(requested, anniversary(chance, requested, -chance.randint(0, 8)))
    question = {"requested": str(requested)}
    sometimes(chance, question, "shorter_from", str(shorter), 0.6)
    return question


def classify(chance):
    return {"disclosed_for": chance.choice(KINDS)}


def line(chance):
    return {name: chance.choice(["", "  ", "words", "more words"]) for name in
            ("recipient", "address", "description", "purpose")} | {
        "date": chance.choice(["", "2024-05-02", "2024-02-29"]), "request_copy": flip(chance)}


def charge(chance):
    dates = [date(chance, 2016, 2024)]
    for _ in range(chance.randint(0, 5)):
        step = chance.choice([0, 30, 200, 364, 365, 366])
        back = chance.choice(dates)
        nxt = anniversary(chance, back, 1) if flip(chance) else back + step * DAY
        dates.append(max(dates[-1], nxt))
    return {"requested": str(dates[-1]), "earlier": [str(on) for on in dates[:-1]]}


def suspension(chance):
    how = chance.choice(["oral", "oral", "written"])
    stated = date(chance, 2020, 2030)
    question = {"how": how, "stated_on": str(stated), "until": None, "written_on": None}
    if how == "written" or flip(chance, 0.7):
        question["until"] = str(stated + chance.choice([0, 1, 29, 30, 31, 200]) * DAY)
    if how == "oral" and flip(chance):
        question["written_on"] = str(stated + chance.choice([0, 1, 29, 30, 31, 60]) * DAY)
    return question


def disclosure_list(chance):
    question = window(chance)
    first = question.get("shorter_from") or question["requested"]
    requested, start = day(question["requested"]), day(first)
    six = anniversary(chance, requested, -6)
    prepared = requested + chance.randint(0, 60) * DAY
    told = []
    kinds = [chance.choice(ACCOUNTING["counted_may_be_grouped"]), "sent_in_error", chance.choice(KINDS)]
    for _ in range(chance.randint(0, 8)):
        on = chance.choice([near(chance, requested), near(chance, start), six, near(chance, requested, 2500)])
        row = {"on": str(on), "recipient": chance.choice(PLACES), "disclosed_for": chance.choice(kinds),
               "purpose": chance.choice(PURPOSES)}
        row["left_out_through"] = maybe(chance, str(near(chance, prepared)), 0.3)
        told.append(row)
    return question | {"prepared_on": str(prepared), "disclosures": told}


ACCOUNTING_MAKERS = {"window": window, "classify": classify, "line": line, "charge": charge,
                     "suspension": suspension, "list": disclosure_list}


def words(chance, *more):
    return chance.choice(["words"] * 8 + ["", "  "] + list(more))


def authorization(chance):
    if flip(chance):
        return {"ask": "complete", "form": form(chance)}
    at = instant(chance, date(chance, 2022, 2028))
    on = at[:10]
    question = {"ask": "usable", "disclosed_at": at}
    question["expiry"] = chance.choice([{"date": str(near(chance, day(on)))}, {"event": "claim settled"}])
    happened = str(near(chance, day(on), chance.choice([1, 30])))
    question["event_happened_on"] = maybe(chance, happened) if "event" in question["expiry"] else None
    question["revoked_at"] = maybe(chance, shifted(chance, at, chance.choice([-1, 0, 1, 90000, -90000])))
    question["conditioned_on"] = maybe(
        chance, chance.choice(["treatment", "payment", "enrollment", "eligibility"]), 0.4)
    question["exception"] = maybe(
        chance, chance.choice(["research_treatment", "plan_enrollment", "exam_for_third_party"]), 0.4)
    question["improperly_combined"] = flip(chance, 0.2)
    question["known_false"] = flip(chance, 0.2)
    question["missing"] = chance.choice([[], [], [], ["expiry"], ["purpose", "signature"]])
    return question


def form(chance):
    expiry = chance.choice([{"date": "2025-06-17"}, {"event": "claim settled"}, {"none": True}, {},
                            {"date": ""}, {"event": " "}, {"none": False}])
    return {
        "information": words(chance), "discloser": words(chance), "recipient": words(chance),
        "purpose": words(chance, AT_REQUEST, AT_REQUEST, AT_REQUEST),
        "initiated_by_person": flip(chance), "research": flip(chance), "expiry": expiry,
        "signed_by": words(chance), "signed_on": chance.choice(["2024-06-17"] * 5 + ["", " "]),
        "signer": chance.choice(["person", "representative"]), "authority": words(chance, "", ""),
        "revoke": {"right": flip(chance, 0.8), "how_and_exceptions": flip(chance),
                   "points_to_notice": flip(chance)},
        "conditioning": flip(chance, 0.8), "redisclosure": flip(chance, 0.8),
        "sought_by_practice": flip(chance), "copy_given": flip(chance),
    }


PARTS = ["copying_labor", "paper_supplies", "portable_media", "postage", "summary", "search",
         "retrieval", "review", "Postage"]


def fees(chance):
    ask = chance.choice(["federal", "federal", "federal", "state", "state", "withhold"])
    if ask == "withhold":
        return {"ask": ask, "unpaid_bill_cents": chance.choice([0, 1, 12000])}
    if ask == "state":
        return state_fee(chance)
    method = chance.choice(["actual", "average", "flat"])
    parts = {} if method == "flat" and flip(chance) else {
        name: chance.randint(1, 900) for name in subset(chance, PARTS, 4)}
    amount = chance.choice([0, 1, 649, 650, 651, 5000]) if method == "flat" else sum(parts.values())
    question = {"ask": ask, "method": method, "amount_cents": amount, "parts": parts,
                "held_electronically": flip(chance, 0.7), "copy": chance.choice(["electronic", "paper"])}
    for name in ("portable_media_asked", "mailed", "summary_agreed", "summary_fee_agreed",
                 "told_in_advance", "per_page"):
        question[name] = flip(chance, 0.3 if name == "per_page" else 0.6)
    return question


def state_fee(chance):
    question = {"ask": "state", "place": chance.choice(["us-tx-76-3", "us-ca-123110"]),
                "format": chance.choice(["digital", "paper", "film"]),
                "pages": chance.choice([1, 2, 3, chance.randint(1, 2000)]), "charged_cents": 0}
    try:
        cap = state(question)["cap_cents"]
        question["charged_cents"] = max(0, cap + chance.choice([-1, 0, 1, -300, 300]))
    except Invalid:
        pass
    return question
