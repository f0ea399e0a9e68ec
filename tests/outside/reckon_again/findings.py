"""P.A.R.T. and the X-ray window (CMS Pub. 100-02 ch. 15, 240.1.2; Or. Admin. R. 811-015-0010(3)), age, late
entries (CMS Pub. 100-08 ch. 3, 3.3.2.5; Ala. Admin. Code 560-X-1-.21), de-identification (45 CFR 164.514)."""

import datetime
from fractions import Fraction

from .common import (Invalid, age_on, day, day_or_none, instant, instant_or_none, need, one_of,
                     plus_months, plus_years, table)

TRADE = table("trade.toml")
LATE = table("deadlines.toml")["late_entry"]


def part(question):
    letters = {one_of(letter, "PARTS", "found") for letter in question["found"]}
    medicare, oregon = TRADE["part"]["medicare"], TRADE["part"]["oregon"]
    counted = letters & set(medicare["of"])
    enough = len(counted) >= medicare["at_least"] and counted & set(medicare["one_of"])
    return {"medicare": bool(enough or question.get("xray_in_window")),
            "oregon": len(letters & set(oregon["of"])) >= oregon["at_least"]}


def xray(question):
    start, taken = (day(text) for text in need(question, "course_start", "taken"))
    rule = TRADE["xray_window"]
    first = plus_months(start, -rule["months_before"])
    last = plus_months(start, rule["months_after"])
    months = question.get("condition_months")
    accepted = "yes" if first <= taken <= last else "no"
    if taken < first and months is not None and months > 12 and question.get("judged_permanent"):
        accepted = "older_allowed"
    return {"from": str(first), "through": str(last), "accepted": accepted}


def age(question):
    ask = one_of(question.get("ask"), ("age", "attains", "is_minor"), "ask")
    leap = one_of(question.get("leap_day"), ("mar1", "feb28"), "leap_day")
    born = day(need(question, "born")[0])
    if ask == "attains":
        return {"on": str(plus_years(born, need(question, "age")[0], leap))}
    years = age_on(born, day(need(question, "on")[0]), leap)
    if ask == "age":
        return {"age": years}
    return {"minor": years < need(question, "majority_age")[0]}


def timing(question):
    event, written = (instant(text) for text in need(question, "event_at", "written_at"))
    elapsed = Fraction((written - event) // datetime.timedelta(microseconds=1), 3_600_000_000)
    if elapsed < 0:
        label = "refuse"
    elif elapsed > Fraction(str(need(question, "limit_hours")[0])):
        label = "late"
    else:
        # each local date in its own offset
        label = "same_day" if event.date() == written.date() else "within_limit"
    also = []
    for code, name in (("after_hold", "hold_at"), ("after_notice", "notice_at")):
        mark = instant_or_none(question.get(name))
        if mark is not None and written > mark:
            also.append(code)
    return {"label": label, "also": also}


KINDS = {"words_were_wrong": "correction", "new_information": "addendum",
         "left_out": "late_entry", "from_other_chart": "re_entered"}


def stands(question):
    codes = {"labeled": "label", "dated": "date", "author_named": "author",
             "original_readable": "original"}
    if one_of(question.get("medium"), ("paper", "electronic"), "medium") == "electronic":
        codes["change_distinct"] = "change"
    missing = sorted(code for name, code in codes.items() if not question.get(name))
    return {"considered": not missing, "missing": missing}


def al_medicaid(question):
    service, entry = (day(text) for text in need(question, "service", "entry"))
    if entry < service:
        raise Invalid("written before the service")
    limit = service + datetime.timedelta(days=LATE["us_al_medicaid"]["limit_days"])
    marks = [day_or_none(question.get(name)) for name in ("claim", "request")]
    before = all(mark is None or entry < mark for mark in marks)
    return {"accepted": entry <= limit and before}


def late_entry(question):
    ask = question.get("ask")
    if ask == "timing":
        return timing(question)
    if ask == "kind":
        kinds = [kind for name, kind in KINDS.items() if question.get(name)]
        if len(kinds) != 1:
            raise Invalid("true for one of them")
        return {"kind": kinds[0]}
    if ask == "stands":
        return stands(question)
    if ask == "al_medicaid":
        return al_medicaid(question)
    raise Invalid(f"ask: {ask!r}")


HIDE = TRADE["deidentification"]


def deidentification(question):
    ask = question.get("ask")
    if ask == "zip":
        digits = need(question, "zip")[0]
        if not digits.isascii() or not digits.isdigit() or len(digits) not in (5, 9):
            raise Invalid("zip: 5 or 9 digits")
        return {"zip3": "000" if digits[:3] in HIDE["zip3_to_000"] else digits[:3]}
    if ask == "zip_population":
        digits, people = need(question, "zip3", "population")
        over = people > HIDE["zip3_keep_when_population_over"]
        return {"zip3": digits if over else "000"}
    if ask == "code":
        made_from = need(question, "made_from")[0]
        if not made_from:
            raise Invalid("made from nothing")
        return {"allowed": all(word == "random number" for word in made_from)}
    one_of(ask, ("age", "date"), "ask")
    born, on = (day(text) for text in need(question, "born", "on"))
    years = age_on(born, on, "mar1")
    if ask == "age":
        return {"age": "90+" if years >= HIDE["age_top"] else str(years)}
    kind = one_of(question.get("kind"), ("visit", "birth"), "kind")
    shown = day(need(question, "date")[0]).year
    if kind == "birth" and years >= HIDE["age_top"]:
        return {"shown": None}
    return {"shown": f"{shown:04}"}
