"""What an accounting tells (45 CFR 164.528), when an authorization is complete and usable (45 CFR 164.508),
and which fee for a copy is allowed (45 CFR 164.524(c)(4), HHS access FAQ 2030, state ceilings)."""

import datetime

from .common import (Invalid, blank, day, day_or_none, instant, instant_or_none, need, one_of,
                     plus_years, table)

TRADE = table("trade.toml")
ACCOUNTING = TRADE["accounting"]
KINDS = (ACCOUNTING["not_counted"] + ACCOUNTING["counted_may_be_grouped"]
         + ACCOUNTING["counted_never_grouped"])
CLOCK = next(c for c in table("deadlines.toml")["clock"] if c["id"] == "us-hipaa-accounting")
THIRTY = datetime.timedelta(days=30)


def window(question):
    requested = day(need(question, "requested")[0])
    first = plus_years(requested, -CLOCK["look_back_years"], CLOCK["look_back_leap_day"])
    shorter = day_or_none(question.get("shorter_from"))
    if shorter is not None:
        if shorter > requested:
            raise Invalid("the person's first day is after the request")
        first = max(first, shorter)
    return first, requested


def free(question):
    """Walk through the requests in order; one is free when no free one lies in the 12 months before."""
    dates = [day(text) for text in question.get("earlier") or []]
    dates.append(day(need(question, "requested")[0]))
    if dates != sorted(dates):
        raise Invalid("earlier requests come oldest first and before this one")
    last_free = None
    result = True
    for date in dates:
        result = last_free is None or date >= plus_years(last_free, 1, "mar1")
        if result:
            last_free = date
    return result


def left_out_through(question):
    how = one_of(question.get("how"), ("oral", "written"), "how")
    stated = day(need(question, "stated_on")[0])
    until = day_or_none(question.get("until"))
    written = day_or_none(question.get("written_on"))
    if until is not None and until < stated:
        raise Invalid("the day named is past")
    if how == "written":
        if until is None:
            raise Invalid("a written request that names no day")
        return until
    oral = stated + THIRTY
    if written is not None and stated <= written <= oral:
        if until is None:
            raise Invalid("a written statement that names no day")
        return until
    return oral if until is None else min(until, oral)


def lines(question):
    first, last = window(question)
    prepared = day(need(question, "prepared_on")[0])
    groups = {}
    for number, told in enumerate(need(question, "disclosures")[0]):
        kind = one_of(told.get("disclosed_for"), KINDS, "disclosed_for")
        on = day(told["on"])
        hidden = day_or_none(told.get("left_out_through"))
        if kind in ACCOUNTING["not_counted"] or not first <= on <= last:
            continue
        if hidden is not None and prepared <= hidden:
            continue
        grouped = kind in ACCOUNTING["counted_may_be_grouped"]
        key = (told["recipient"], told["purpose"], None if grouped else number)
        groups.setdefault(key, []).append(on)
    made = [{"recipient": key[0], "purpose": key[1], "first": str(min(dates)),
             "count": len(dates), "last": str(max(dates))} for key, dates in groups.items()]
    # the text orders by first and recipient only; the purpose settles what it leaves open
    return sorted(made, key=lambda l: (l["first"], l["recipient"], l["purpose"], l["last"]))


def accounting(question):
    ask = question.get("ask")
    if ask == "window":
        first, last = window(question)
        return {"from": str(first), "to": str(last)}
    if ask == "classify":
        kind = one_of(question.get("disclosed_for"), KINDS, "disclosed_for")
        return {"counted": kind not in ACCOUNTING["not_counted"]}
    if ask == "line":
        missing = {name for name in ACCOUNTING["line_fields"] if blank(question.get(name))}
        if question.get("request_copy"):
            missing.discard("purpose")
        return {"complete": not missing, "missing": sorted(missing)}
    if ask == "charge":
        return {"free": free(question)}
    if ask == "suspension":
        return {"left_out_through": str(left_out_through(question))}
    if ask == "list":
        return {"lines": lines(question)}
    raise Invalid(f"ask: {ask!r}")


# ------------------------------------------------------------------ authorization

AT_REQUEST = "at the request of the individual"


def missing_elements(form):
    missing = {name for name in ("information", "discloser", "recipient") if blank(form.get(name))}
    purpose = form.get("purpose")
    if blank(purpose) or (purpose.strip().lower() == AT_REQUEST and not form["initiated_by_person"]):
        missing.add("purpose")
    expiry = form.get("expiry") or {}
    named = not blank(expiry.get("date")) or not blank(expiry.get("event"))
    if not named and not (expiry.get("none") and form["research"]):
        missing.add("expiry")
    signer = one_of(form.get("signer"), ("person", "representative"), "signer")
    unsigned = blank(form.get("signed_by")) or blank(form.get("signed_on"))
    if unsigned or (signer == "representative" and blank(form.get("authority"))):
        missing.add("signature")
    revoke = form.get("revoke") or {}
    how = revoke.get("how_and_exceptions") or revoke.get("points_to_notice")
    if not (revoke.get("right") and how):
        missing.add("right_to_revoke")
    missing |= {name for name in ("conditioning", "redisclosure") if not form.get(name)}
    return sorted(missing)


def usable(question):
    at = instant(need(question, "disclosed_at")[0])
    defects = set()
    expiry = question.get("expiry") or {}
    happened = day_or_none(question.get("event_happened_on"))
    if not blank(expiry.get("date")) and at.date() > day(expiry["date"]):
        defects.add("expired")
    if not blank(expiry.get("event")) and happened is not None and happened <= at.date():
        defects.add("expired")
    revoked = instant_or_none(question.get("revoked_at"))
    if revoked is not None and at >= revoked:
        defects.add("revoked")
    if question.get("missing"):
        defects.add("incomplete")
    if question.get("conditioned_on") is not None and question.get("exception") is None:
        defects.add("improper_conditioning")
    if question.get("improperly_combined"):
        defects.add("improper_combination")
    if question.get("known_false"):
        defects.add("known_false")
    return {"usable": not defects, "defects": sorted(defects)}


def authorization(question):
    if question.get("ask") == "usable":
        return usable(question)
    one_of(question.get("ask"), ("complete",), "ask")
    form = need(question, "form")[0]
    missing = missing_elements(form)
    owed = form.get("sought_by_practice") and not form.get("copy_given")
    return {"complete": not missing, "missing": missing,
            "also_due": ["copy_to_person"] if owed else []}


# ------------------------------------------------------------------ fees

FEES = TRADE["fees"]


def part_problem(name, question):
    if name not in FEES["federal"]["parts_allowed"]:
        return f"part_not_allowed:{name}"
    if name == "paper_supplies" and question["copy"] != "paper":
        return "part_not_allowed:paper_supplies"
    if name == "portable_media" and not question["portable_media_asked"]:
        return "media_not_asked"
    if name == "postage" and not question["mailed"]:
        return "postage_not_mailed"
    if name == "summary" and not (question["summary_agreed"] and question["summary_fee_agreed"]):
        return "summary_not_agreed"
    return None


def federal(question):
    method = one_of(question.get("method"), FEES["federal"]["methods"], "method")
    one_of(question.get("copy"), ("electronic", "paper"), "copy")
    problems = set()
    if method == "flat":
        if question["amount_cents"] > FEES["federal"]["flat_limit_cents"]:
            problems.add("flat_over_limit")
        if question["copy"] != "electronic" or not question["held_electronically"]:
            problems.add("flat_not_for_this_copy")
    else:
        problems |= {part_problem(name, question) for name in question["parts"]} - {None}
    if question["per_page"] and question["held_electronically"]:
        problems.add("per_page_on_electronic")
    if question["amount_cents"] > 0 and not question["told_in_advance"]:
        problems.add("not_told_in_advance")
    return {"ok": not problems, "problems": sorted(problems)}


def state(question):
    place = one_of(question.get("place"), ("us-tx-76-3", "us-ca-123110"), "place")
    form = one_of(question.get("format"), ("digital", "paper", "film"), "format")
    pages = question["pages"]
    prices = FEES[place]
    if pages < 1:
        raise Invalid("no page has no price")
    if f"{form}_cents" in prices:
        cap = prices[f"{form}_cents"]
    elif f"{form}_first_page_cents" in prices:
        cap = prices[f"{form}_first_page_cents"] + (pages - 1) * prices[f"{form}_more_page_cents"]
    elif f"{form}_page_cents" in prices:
        cap = pages * prices[f"{form}_page_cents"]
    else:
        raise Invalid("the place has no price for this")
    return {"cap_cents": cap, "ok": question["charged_cents"] <= cap}


def fees(question):
    ask = one_of(question.get("ask"), ("federal", "state", "withhold"), "ask")
    if ask == "withhold":
        return {"may_withhold": False}
    return federal(question) if ask == "federal" else state(question)
