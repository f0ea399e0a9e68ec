"""When an answer is due (45 CFR 164.524(b)(2), 164.526(b)(2), 164.528(c)(1), 22 Tex. Admin. Code 76.2(h)
and the other clocks of deadlines.toml), when at the latest, and whether an extension is good."""

import datetime

from .common import Invalid, blank, day, instant, need, one_of, plus_months, table

CLOCKS = {clock["id"]: clock for clock in table("deadlines.toml")["clock"]}
ONE = datetime.timedelta(days=1)


class Work:
    """Working days: Monday to Friday and not on the list the caller gave."""

    def __init__(self, holidays):
        self.holidays = {day(text) for text in holidays or []}

    def is_working(self, date):
        return date.weekday() < 5 and date not in self.holidays

    def on_or_after(self, date):
        while not self.is_working(date):
            date += ONE
        return date

    def on_or_before(self, date):
        while not self.is_working(date):
            date -= ONE
        return date

    def after(self, date, count):
        while count:
            date += ONE
            count -= self.is_working(date)
        return date


def offset(text):
    return instant("2000-01-01T00:00:00" + text).utcoffset()


def received(question):
    """The practice's local date of receipt."""
    if question.get("received") is not None:
        if question.get("received_at") is not None:
            raise Invalid("a date and an instant of receipt")
        return day(question["received"])
    at, own = need(question, "received_at", "practice_offset")
    return instant(at).astimezone(datetime.timezone(offset(own))).date()


class Counted:
    """One clock, started."""

    def __init__(self, name, question):
        if name not in CLOCKS:
            raise Invalid(f"no clock {name}")
        self.clock = CLOCKS[name]
        self.work = Work(question.get("holidays"))
        self.start = received(question)
        if self.clock["starts_on"] == "request_date" and question.get("requested") is not None:
            # of the two the earlier, which can only make us earlier
            self.start = min(self.start, day(question["requested"]))
        self.extension = self.clock.get("extension")
        self.due = self.end(self.clock["count"])
        self.limit = None
        if self.extension:
            if self.extension["unit"] != self.clock["unit"]:
                raise Invalid("two units in one run")
            # one run from the starting date, then rolled as the clock rolls
            self.limit = self.end(self.clock["count"] + self.extension["count"])

    def end(self, count):
        unit = self.clock["unit"]
        if unit == "calendar_days":
            date = self.start + count * ONE
        elif unit == "months":
            date = plus_months(self.start, count)
        else:
            date = self.work.after(self.start, count)
        if self.clock["roll"] == "next_working_day":
            return self.work.on_or_after(date)
        return date

    def extend(self, sent, earlier):
        """The codes against an extension, and the date due after it."""
        rule = self.extension
        if not rule:
            return ["no_extension_in_rule"], self.due
        new_date = sent.get("new_date")
        new_date = None if new_date is None else day(new_date)
        codes = set()
        if earlier >= rule["max_times"]:
            codes.add("already_extended")
        if day(need(sent, "sent")[0]) > self.due:
            codes.add("sent_too_late")
        if rule["in_writing"] and not sent.get("in_writing"):
            codes.add("not_in_writing")
        if rule["reasons"] and blank(sent.get("reasons")):
            codes.add("no_reasons")
        if rule["new_date"] and new_date is None:
            codes.add("no_new_date")
        if new_date is not None and new_date > self.limit:
            codes.add("beyond_limit")
        if codes:
            return sorted(codes), self.due
        return [], new_date or self.limit


def answer(question):
    ask = one_of(question.get("ask"), ("due", "extension", "acted", "earliest"), "ask")
    if ask == "earliest":
        names = need(question, "clocks")[0]
        due = {name: Counted(name, question).due for name in names}
        if not due:
            raise Invalid("no clock")
        first = min(due.values())
        return {"due": str(first), "set_by": sorted(n for n, d in due.items() if d == first)}
    counted = Counted(need(question, "clock")[0], question)
    if ask == "due":
        return {
            "due": str(counted.due),
            "limit": None if counted.limit is None else str(counted.limit),
            "work_by": str(counted.work.on_or_before(counted.due)),
        }
    sent = question.get("extension")
    earlier = question.get("earlier_extensions") or 0
    if ask == "extension":
        if sent is None:
            raise Invalid("no extension")
        codes, due = counted.extend(sent, earlier)
        return {"valid": not codes, "failures": codes, "due": str(due)}
    due = counted.due
    if sent is not None:
        due = counted.extend(sent, earlier)[1]
    acted = day(need(question, "acted")[0])
    return {"due": str(due), "days_late": max(0, (acted - due).days)}
