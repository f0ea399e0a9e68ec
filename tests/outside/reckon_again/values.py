"""Limits on typed values and published thresholds for change (Swiss Dent J 2020;130:668-675; Cleland 2008;
Farrar 2001; Young 2009; Kropmans 2000; Stoustrup 2013; Christensen 1998; Anwar 2022)."""

import re
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from .common import Invalid, need, one_of, table

TRADE = table("trade.toml")
LIMITS = {limit["measure"]: limit for limit in TRADE["limit"]}
WORST = ["ok", "ask", "refuse"]
# 1 in = 25.4 mm and 1 lb = 0.45359237 kg, both exact
OTHER_UNITS = {("in", "mm"): Decimal("25.4"), ("lb", "kg"): Decimal("0.45359237")}


def number(value):
    if isinstance(value, bool) or not isinstance(value, (int, Decimal)):
        raise Invalid(f"not a number: {value!r}")
    return Decimal(value)


def numbers(question, *names):
    return [number(value) for value in need(question, *names)]


def worst(*outcomes):
    return max(outcomes, key=WORST.index)


def ask_if(condition):
    return "ask" if condition else "ok"


def refuse_if(condition):
    return "refuse" if condition else "ok"


def single(measure, value):
    limit = LIMITS[measure]

    def outside(kind):
        low, high = limit.get(f"{kind}_below"), limit.get(f"{kind}_above")
        return (low is not None and value < low) or (high is not None and value > high)

    if outside("refuse") or (limit.get("whole") and value != int(value)):
        return "refuse"
    return ask_if(outside("ask"))


def base(value, typed, unit):
    """The value in the base unit, and whether another unit was typed."""
    if typed == unit:
        return value, False
    if (typed, unit) not in OTHER_UNITS:
        raise Invalid(f"{typed} for {unit}")
    return value * OTHER_UNITS[typed, unit], True


def with_base(outcome, value, converted):
    result = {"outcome": outcome}
    if converted:
        result["base_value"] = value.quantize(Decimal("0.0001"), ROUND_HALF_UP)
    return result


def measured(question, measure, judge):
    (value,) = numbers(question, "value")
    value, converted = base(value, need(question, "unit")[0], LIMITS[measure]["unit"])
    return with_base(judge(value), value, converted)


def opening_set(question):
    free, own, assisted = numbers(question, "pain_free", "unassisted", "assisted")
    order = refuse_if(free - own > 1 or own - assisted > 1)
    return worst(order, *(single("mouth_opening", value) for value in (free, own, assisted)))


def lateral_pair(question):
    left, right = numbers(question, "left", "right")
    return worst(ask_if(abs(left - right) > 4), single("lateral", left), single("lateral", right))


def blood_pressure(question):
    systolic, diastolic = numbers(question, "systolic", "diastolic")
    bad = systolic < 50 or systolic > 280 or diastolic >= systolic
    return worst(refuse_if(bad), ask_if(systolic >= 180 or diastolic >= 110))


def pain_change(question):
    before, after = numbers(question, "before", "after")
    return ask_if(abs(after - before) >= 7)


def opening_gain(question):
    before, after = numbers(question, "before", "after")
    return ask_if(after - before > 15)


def weight_change(question):
    before, after, days = numbers(question, "before", "after", "days")
    return ask_if(days <= 90 and abs(after - before) * 10 > before)


def strength(question):
    grade = need(question, "grade")[0]
    if not re.fullmatch(r"[0-5][+-]?", grade) or grade in ("5+", "0-"):
        return "refuse"
    return ask_if(int(grade[0]) < 3 and not question.get("referral"))


def reflex_grade(grade):
    if not re.fullmatch(r"[0-4]\+?", grade):
        return "refuse"
    return ask_if(grade[0] in "034")


def reflex(question):
    return reflex_grade(need(question, "grade")[0])


def reflex_pair(question):
    left, right = need(question, "left", "right")
    # a trailing + changes nothing
    unlike = left.rstrip("+") != right.rstrip("+")
    return worst(reflex_grade(left), reflex_grade(right), ask_if(unlike))


def questionnaire(question):
    score, maximum = numbers(question, "score", "maximum")
    published = TRADE["limit_pairs"]["questionnaire_maximum"].get(question["name"])
    unlike = published is not None and maximum != published
    return worst(refuse_if(score < 0 or score > maximum), ask_if(unlike))


PAIRS = {"mouth_opening_set": opening_set, "lateral_pair": lateral_pair,
         "blood_pressure": blood_pressure, "pain_change": pain_change, "opening_gain": opening_gain,
         "weight_change": weight_change, "strength": strength, "reflex": reflex,
         "reflex_pair": reflex_pair, "questionnaire": questionnaire}


def plausibility(question):
    measure = question.get("measure")
    if measure in PAIRS:
        return {"outcome": PAIRS[measure](question)}
    if measure == "opening_for_mouth_work":
        return measured(question, "mouth_opening", lambda value: ask_if(value < 20))
    one_of(measure, LIMITS, "measure")
    needs = LIMITS[measure].get("needs", [])
    for name, words in (("side", ("left", "right")), ("kind", LIMITS[measure].get("kinds"))):
        if name in needs and question.get(name) is not None:
            one_of(question[name], words, name)
    gap = any(question.get(name) is None for name in needs)
    return measured(question, measure, lambda value: worst(refuse_if(gap), single(measure, value)))


# ------------------------------------------------------------------ change

LOWER_IS_BETTER = ("NPRS", "NDI")
# one point of the 50 is two percent
IN_POINTS = {"points": Fraction(1), "percent": Fraction(1, 2)}


def exact(value):
    """A decimal of a fraction known to end."""
    return Decimal(value.numerator) / Decimal(value.denominator)


def to_unit(value, typed, unit, instrument):
    if typed == unit:
        return value
    if instrument != "NDI" or typed not in IN_POINTS or unit not in IN_POINTS:
        raise Invalid(f"{typed} for {unit}")
    return value * IN_POINTS[typed] / IN_POINTS[unit]


def reached(threshold, size, baseline, unit, instrument):
    wanted = threshold["unit"]
    if wanted == "percent of baseline":
        if baseline == 0:
            return None
        size = 100 * size / baseline
    elif wanted == "percentage points":
        size = to_unit(size, unit, "percent", instrument)
    else:
        size = to_unit(size, unit, wanted, instrument)
    value = Fraction(threshold["value"])
    return size >= value if threshold["met"] == "at_least" else size > value


def classify(question):
    instrument = need(question, "instrument")[0]
    unit, other = need(question, "unit", "followup_unit")
    baseline, followup = (Fraction(value) for value in numbers(question, "baseline", "followup"))
    followup = to_unit(followup, other, unit, instrument)
    rows = [row for row in TRADE["threshold"] if row["instrument"] == instrument
            and row.get("population") == question.get("population")]
    if not rows:
        raise Invalid("no threshold")
    size = abs(followup - baseline)
    direction = "same"
    if size:
        fell = followup < baseline
        direction = "better" if fell == (instrument in LOWER_IS_BETTER) else "worse"
    met = {row["id"]: reached(row, size, baseline, unit, instrument) for row in rows}
    return {"size": exact(size), "direction": direction, "met": met}


def change(question):
    ask = question.get("ask")
    if ask == "classify":
        return classify(question)
    if ask == "detectable":
        (sem,) = numbers(question, "sem")
        z = TRADE["detectable_change"]["z"][str(one_of(question.get("level"), (90, 95), "level"))]
        value = z * Decimal(2).sqrt() * sem
        return {"detectable": value.quantize(Decimal("0.01"), ROUND_HALF_UP)}
    one_of(ask, ("ndi_score",), "ask")
    total, answered = numbers(question, "sum", "answered")
    if not 1 <= answered <= 10 or not 0 <= total <= 5 * answered:
        raise Invalid("sum of items 0 to 5")
    percent = 100 * total / (5 * answered)
    return {"percent": percent.quantize(Decimal("0.1"), ROUND_HALF_UP)}
