"""How long a record is kept (the examples of retention.toml: 22 Tex. Admin. Code 76.4, Or. Admin. R.
811-015-0005, 45 CFR 164.530(j)(2) and the others), and what stops its disposal."""

from .common import Invalid, age_on, blank, day, day_or_none, need, one_of, plus_years, table

BOOK = table("retention.toml")
RULES = {rule["id"]: rule for rule in BOOK["rule"]}
BLOCKS = [block["id"] for block in BOOK["block"]]
# each treatment, or each entry, starts a count of its own
OWN_COUNT = ("each_service", "record_made")


class BirthDateNeeded(Exception):
    """An adopted rule looks at age and the birth date is not known."""


class Chart:
    """The dates of one chart."""

    def __init__(self, question):
        self.services = sorted(day(text) for text in question.get("services") or [])
        more = [day(text) for text in question.get("entries") or []]
        # every service is an entry too
        self.entries = sorted(set(self.services) | set(more))
        if not self.entries:
            raise Invalid("nothing on the chart")
        # never treated: the last entry stands in for the last service
        self.last_service = self.services[-1] if self.services else self.entries[-1]
        self.born = day_or_none(question.get("born"))
        self.completed = day_or_none(question.get("completed"))
        self.emancipated = day_or_none(question.get("emancipated"))

    def start(self, trigger, item):
        """The day the years are counted from."""
        if trigger == "last_service":
            return self.last_service
        if trigger in ("each_service", "record_made"):
            return item
        if trigger == "completion":
            if self.completed is None or self.last_service > self.completed:
                return self.last_service
            return self.completed
        raise Invalid(f"trigger {trigger} is not one of a chart")


class Rule:
    def __init__(self, fields):
        default = BOOK["defaults"]
        self.id = fields["id"]
        self.years = fields["years"]
        self.trigger = fields["trigger"]
        self.majority = fields.get("majority_age", default["majority_age"])
        self.leap = fields.get("leap_day", default["leap_day"])
        self.minor = fields.get("minor")
        self.fields = fields

    def is_minor(self, chart, item):
        under = self.minor.get("under_age", self.majority)
        when = self.minor["tested_at"]
        if when == "last_service":
            dates = [chart.last_service]
        elif when == "any_entry":
            dates = chart.entries
        elif when == "each_item":
            dates = [item]
        else:
            raise Invalid(f"tested_at {when}")
        return any(self.is_under(chart, date, under) for date in dates)

    def is_under(self, chart, date, under):
        """Where emancipation stands in for the birthday, it ends minority as the birthday does."""
        ends = self.minor.get("emancipation_ends_minority") and chart.emancipated
        if ends and chart.emancipated <= date:
            return False
        return age_on(chart.born, date, self.leap) < under

    def birthday(self, chart):
        """The birthday a minor's record is kept to."""
        if "keep_to_age" in self.minor:
            age = self.minor["keep_to_age"]
        else:
            age = self.majority + self.minor["keep_to_majority_plus"]
        if "at_last_age" in self.minor:
            if age_on(chart.born, chart.last_service, self.leap) == self.minor["at_last_age"]:
                age = self.minor["at_last_keep_to_age"]
        birthday = plus_years(chart.born, age, self.leap)
        if self.minor.get("emancipation_ends_minority") and chart.emancipated:
            return min(birthday, chart.emancipated)
        return birthday

    def count(self, chart, item):
        """The trigger for the years, which the minor clause may change, and whether it applies."""
        minor = self.minor is not None and self.is_minor(chart, item)
        trigger = self.minor.get("count_from", self.trigger) if minor else self.trigger
        return trigger, minor

    def item_day(self, chart, item):
        trigger, minor = self.count(chart, item)
        years = plus_years(chart.start(trigger, item), self.years, self.leap)
        if not minor:
            return years
        pick = {"later": max, "earlier": min}[self.minor["combine"]]
        return pick(years, self.birthday(chart))

    def asked_day(self, chart, item):
        """For one date: rules that count from the last service give the chart's day."""
        if self.count(chart, item)[0] in OWN_COUNT:
            return self.item_day(chart, item)
        return self.chart_day(chart)

    def counts(self, chart, item):
        """Whether the item gives the chart a day: under each_service only a treatment does."""
        if self.count(chart, item)[0] != "each_service":
            return True
        return item in (chart.services or [chart.last_service])

    def chart_day(self, chart):
        """The latest of the items' days; where nothing is counted or tested by item they are all alike."""
        # the last service always has a day, so there is one to take
        return max(self.item_day(chart, item) for item in chart.entries if self.counts(chart, item))

    def unsettled(self):
        settled = self.fields.get("confidence") in ("found", "project")
        return not settled or self.fields.get("standing") == "disputed"


def adopted(question):
    rules = []
    for name in question.get("rules") or []:
        if name not in RULES:
            raise Invalid(f"no rule {name}")
        rules.append(Rule(RULES[name]))
    rules += [Rule(fields) for fields in question.get("rules_inline") or []]
    if not rules:
        raise Invalid("no rule adopted")
    return rules


def latest(days):
    """The latest date wins and every rule that gives it is named."""
    top = max(days.values())
    return {"keep_through": str(top), "set_by": sorted(k for k, v in days.items() if v == top)}


def answer(question):
    ask = one_of(question.get("ask"), ("chart", "item", "document", "dispose"), "ask")
    rules = adopted(question)
    if ask == "document":
        (created,) = need(question, "created")
        start = max(day(created), day(question.get("last_in_effect") or created))
        if any(rule.trigger != "last_in_effect" for rule in rules):
            raise Invalid("a chart's rule for a paper")
        return latest({r.id: plus_years(start, r.years, r.leap) for r in rules})
    chart = Chart(question)
    if any(rule.trigger == "last_in_effect" for rule in rules):
        raise Invalid("a paper's rule for a chart")
    refusals = blocks(question, rules) if ask == "dispose" else None
    if chart.born is None and any(rule.minor is not None for rule in rules):
        if ask == "dispose":
            raise Invalid("the text gives no list of reasons without a date")
        return {"problem": "birth_date_needed"}
    if chart.born is not None and chart.born > chart.entries[0]:
        raise Invalid("treated before birth")
    if ask == "item":
        item = day(need(question, "item")[0])
        if item not in chart.entries:
            raise Invalid("nothing was done or entered on that date")
        return latest({rule.id: rule.asked_day(chart, item) for rule in rules})
    result = latest({rule.id: rule.chart_day(chart) for rule in rules})
    if ask == "dispose":
        if str(day(question["as_of"])) <= result["keep_through"]:
            refusals.add("not_yet")
        result["refusals"] = sorted(refusals)
    return result


def blocks(question, rules):
    refusals = set()
    for block in question.get("open") or []:
        refusals.add(one_of(block, BLOCKS, "open"))
    # a written reason lifts this one, and only this one; blank is no reason
    if any(rule.unsettled() for rule in rules) and blank(question.get("override")):
        refusals.add("unsettled_rule")
    return refusals
