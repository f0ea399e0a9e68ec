"""Questions about charts: retention, age, de-identification, late entries, X-rays, findings."""

from .chance import anniversary, date, flip, instant, maybe, months_off, near, shifted, sometimes, subset
from .chance import DAY
from .common import Invalid, day, table
from .retention import BLOCKS, RULES, answer

CHART = [name for name, rule in RULES.items() if rule["trigger"] != "last_in_effect"]
PAPER = [name for name, rule in RULES.items() if rule["trigger"] == "last_in_effect"]
HIDE = table("trade.toml")["deidentification"]


def inline_rule(chance, number):
    """A rule in the same model, with any of its fields."""
    rule = {"id": f"in-{number}", "years": chance.randint(1, 12),
            "trigger": chance.choice(["last_service", "each_service", "record_made", "completion"])}
    for name, words in (("majority_age", [16, 18, 19, 21]), ("leap_day", ["mar1", "feb28"]),
                        ("standing", ["example", "disputed", "advice", "contrast", "invented"])):
        if flip(chance):
            rule[name] = chance.choice(words)
    rule["confidence"] = chance.choice(["found", "project", "secondary", "memory", "derived"])
    if flip(chance, 0.75):
        rule["minor"] = inline_minor(chance, rule)
    return rule


def inline_minor(chance, rule):
    minor = {"tested_at": chance.choice(["last_service", "any_entry", "each_item"]),
             "combine": chance.choice(["later", "later", "earlier"])}
    if flip(chance):
        minor["under_age"] = chance.choice([16, 18, 19, 21])
    if flip(chance):
        minor["keep_to_age"] = chance.choice([18, 21, 22, 25])
    else:
        minor["keep_to_majority_plus"] = chance.choice([0, 1, 3, 7])
    if flip(chance, 0.3):
        minor["count_from"] = chance.choice(["last_service", "each_service", "record_made", "completion"])
    if flip(chance, 0.3):
        minor["at_last_age"] = chance.choice([15, 17, 18])
        minor["at_last_keep_to_age"] = chance.choice([23, 26, 30])
    if "keep_to_majority_plus" in minor and flip(chance, 0.3):
        minor["emancipation_ends_minority"] = True
    return minor


def retention(chance):
    if flip(chance, 0.07):
        created = date(chance, 2000, 2030)
        question = {"ask": "document", "rules": [chance.choice(PAPER)], "created": str(created)}
        end = near(chance, created, 900)
        sometimes(chance, question, "last_in_effect", str(end), 0.8)
        return question
    question = {"ask": chance.choice(["chart", "item", "dispose"]),
                "rules": subset(chance, CHART, 3)}
    if flip(chance, 0.4) or not question["rules"]:
        question["rules_inline"] = [inline_rule(chance, n) for n in range(chance.randint(1, 2))]
    born = date(chance, 1930, 2018)
    question["born"] = maybe(chance, str(born), 0.95)
    services = chart_days(chance, born, chance.choice([0, 1, 1, 2, 3]))
    question["services"] = [str(on) for on in services]
    entries = chart_days(chance, born, chance.randint(0, 2))
    if flip(chance) or not services:
        question["entries"] = [str(on) for on in entries]
    days = services + (entries if "entries" in question else [])
    if not days:
        return retention(chance)
    if flip(chance, 0.3):
        question["completed"] = str(near(chance, max(days), chance.choice([1, 400])))
    if flip(chance, 0.3):
        day_or_service = chance.choice([anniversary(chance, born, chance.randint(15, 19)), *services])
        question["emancipated"] = str(day_or_service)
    if question["ask"] == "item":
        question["item"] = str(chance.choice(days))
    if question["ask"] == "dispose":
        question["open"] = subset(chance, BLOCKS, 2)
        sometimes(chance, question, "override", chance.choice(["read by counsel", "", "  "]), 0.6)
        question["as_of"] = str(as_of(chance, question, max(days)))
    return question


def chart_days(chance, born, count):
    """Days beside the birthdays at which an age is attained, or any time after birth."""
    days = []
    for _ in range(count):
        if flip(chance, 0.6):
            days.append(max(born, anniversary(chance, born, chance.choice([15, 16, 17, 18, 19, 21]))))
        else:
            days.append(max(born, date(chance, born.year, 2034)))
    chance.shuffle(days)
    return days


def as_of(chance, question, last):
    """Today: at the keep-through day or beside it, or anywhere."""
    try:
        kept = answer(dict(question, ask="chart"))
        if "keep_through" in kept and flip(chance, 0.8):
            return near(chance, day(kept["keep_through"]))
    except Invalid:
        pass
    return near(chance, last, 9000)


def age(chance):
    ask = chance.choice(["age", "attains", "is_minor"])
    born = date(chance, 1900, 2024)
    question = {"ask": ask, "born": str(born), "leap_day": chance.choice(["mar1", "feb28"])}
    years = chance.choice([16, 17, 18, 19, 20, 21, chance.randint(0, 110)])
    if ask == "attains":
        question["age"] = years
        return question
    question["on"] = str(max(born, anniversary(chance, born, years)))
    if ask == "is_minor":
        question["majority_age"] = chance.choice([16, 18, 19, 21])
    return question


def deidentification(chance):
    ask = chance.choice(["zip", "zip_population", "age", "date", "code"])
    zip3 = chance.choice(HIDE["zip3_to_000"] + [f"{chance.randrange(1000):03}"] * 8)
    if ask == "zip":
        return {"ask": ask, "zip": zip3 + "".join(chance.choices("0123456789", k=chance.choice([2, 6])))}
    if ask == "zip_population":
        people = chance.choice([19999, 20000, 20001, 0, chance.randrange(90000)])
        return {"ask": ask, "zip3": zip3, "population": people}
    if ask == "code":
        words = ["random number", "name", "birth date", "phone", "medical record number", "hash"]
        return {"ask": ask, "made_from": chance.choice([["random number"], subset(chance, words, 3)])}
    born = date(chance, 1915, 1990)
    on = max(born, anniversary(chance, born, chance.choice([89, 90, 91, chance.randint(0, 120)])))
    question = {"ask": ask, "born": str(born), "on": str(on)}
    if ask == "date":
        kind = chance.choice(["visit", "birth"])
        question |= {"kind": kind, "date": str(born if kind == "birth" else near(chance, on, 4000))}
    return question


KINDS = ["words_were_wrong", "new_information", "left_out", "from_other_chart"]


def late_entry(chance):
    ask = chance.choice(["timing", "timing", "kind", "stands", "al_medicaid"])
    question = {"ask": ask}
    if ask == "timing":
        return timing(chance, question)
    if ask == "kind":
        chosen = chance.choice(KINDS)
        return question | {name: name == chosen for name in KINDS}
    if ask == "stands":
        question["medium"] = chance.choice(["paper", "electronic"])
        for name in ("labeled", "dated", "author_named", "original_readable", "change_distinct"):
            question[name] = flip(chance, 0.7)
        return question
    service = date(chance, 2020, 2028)
    entry = service + chance.choice([0, 1, 44, 45, 46, chance.randint(0, 90)]) * DAY
    question |= {"service": str(service), "entry": str(entry)}
    for name in ("claim", "request"):
        question[name] = maybe(chance, str(near(chance, entry, chance.choice([1, 40]))))
    return question


def timing(chance, question):
    event = instant(chance, date(chance, 2020, 2028))
    hours = chance.choice([1, 24, 48, 72, 0])
    edge = 3600 * hours + chance.choice([-1, 0, 1])
    later = chance.choice([-1, 0, 1, edge, edge, edge, chance.randint(-9000, 400000)])
    written = shifted(chance, event, later)
    question |= {"event_at": event, "written_at": written, "limit_hours": hours}
    for name in ("notice_at", "hold_at"):
        mark = shifted(chance, written, chance.choice([-1, 0, 1, -90000, 90000]))
        question[name] = maybe(chance, mark)
    return question


def xray(chance):
    start = date(chance, 2000, 2030)
    taken = months_off(chance, start, chance.choice([-12, 3, -24, 0, chance.randint(-300, 12)]))
    return {"course_start": str(start), "taken": str(taken),
            "condition_months": chance.choice([None, 11, 12, 13, 60]),
            "judged_permanent": flip(chance)}


def part(chance):
    return {"found": chance.choices("PARTS", k=chance.randint(0, 5)), "xray_in_window": flip(chance, 0.3)}


