"""Questions about typed values, changes, spinal levels and regions."""

from decimal import Decimal

from .chance import flip, sometimes
from .spine import WORDS, levels
from .values import LIMITS, TRADE

STEPS = [Decimal(step) for step in ("-1", "-0.1", "-0.0001", "0", "0.0001", "0.1", "1", "0.5")]
GRADES = [str(n) + sign for n in range(8) for sign in ("", "+", "-")] + ["", "++", "-1", "2++", "x"]


def plain(value):
    """A whole decimal as a whole number, now and then."""
    return int(value) if value == int(value) else value.normalize()


def beside(chance, *marks):
    """A figure at a mark or just beside it, or anywhere between them."""
    if flip(chance, 0.85):
        return plain(Decimal(chance.choice(marks)) + chance.choice(STEPS))
    top = int(max(marks)) + 20
    return plain(Decimal(chance.randint(-20, top * 10)) / 10)


def marks(limit):
    names = ("ask_below", "ask_above", "refuse_below", "refuse_above")
    return [limit[name] for name in names if name in limit]


def plausibility(chance):
    measure = chance.choice(list(LIMITS) + list(PAIR_MAKERS) * 2)
    question = {"measure": measure}
    if measure in PAIR_MAKERS:
        return question | PAIR_MAKERS[measure](chance)
    limit = LIMITS[measure]
    value, unit = typed(chance, beside(chance, *marks(limit)), limit["unit"])
    question |= {"value": value, "unit": unit}
    if measure == "jaw_path":
        sometimes(chance, question, "side", chance.choice(["left", "right"]), 0.8)
        sometimes(chance, question, "kind", chance.choice(limit["kinds"]), 0.8)
    return question


def typed(chance, value, unit):
    """Now and then the same figure, or one at the limit, in inches or pounds."""
    other = {"mm": ("in", Decimal("25.4")), "kg": ("lb", Decimal("0.45359237"))}.get(unit)
    if other is None or flip(chance, 0.6):
        return value, unit
    places = Decimal(chance.choice(["1", "0.1", "0.01", "0.0001", "0.00001"]))
    return plain((Decimal(value) / other[1]).quantize(places)), other[0]


def opening_set(chance):
    own = beside(chance, 30, 60, 80, 45)
    slack = [Decimal(step) for step in ("1", "1.1", "0.9", "0", "-3", "1.0001")]
    return {"unassisted": own, "pain_free": plain(own + chance.choice(slack)),
            "assisted": plain(own - chance.choice(slack))}


def lateral_pair(chance):
    left = beside(chance, 5, 15, 20, 9)
    gap = Decimal(chance.choice(["4", "4.1", "3.9", "-4", "-4.1", "0", "4.0001"]))
    return {"left": left, "right": plain(left + gap)}


def blood_pressure(chance):
    systolic = chance.choice([49, 50, 51, 179, 180, 181, 280, 281, chance.randint(40, 290)])
    diastolic = chance.choice([30, 109, 110, 111, systolic - 1, systolic, systolic + 1, 70])
    return {"systolic": systolic, "diastolic": diastolic}


def pain_change(chance):
    return {"before": chance.randint(0, 10), "after": chance.randint(0, 10)}


def opening_gain(chance):
    before = beside(chance, 20, 30, 45)
    return {"before": before, "after": plain(before + beside(chance, 15, -15))}


def mouth_work(chance):
    value, unit = typed(chance, abs(beside(chance, 20, 25)), "mm")
    return {"value": value, "unit": unit}


def weight_change(chance):
    before = Decimal(chance.choice(["80", "70.5", "64.3", "101", "3.3"]))
    edge = before * Decimal(chance.choice(["1.1", "0.9"])) + chance.choice(STEPS) / 100
    return {"before": plain(before), "after": plain(edge), "days": chance.choice([0, 89, 90, 91, 30])}


def strength(chance):
    return {"grade": chance.choice(GRADES), "referral": flip(chance)}


def reflex(chance):
    return {"grade": chance.choice(GRADES)}


def reflex_pair(chance):
    usual = ["0", "1", "2", "3", "4", "0+", "1+", "2+", "3+", "4+"]
    return {"left": chance.choice(usual + GRADES), "right": chance.choice(usual)}


def questionnaire(chance):
    maximum = chance.choice([50, 100, 49, 51, 24])
    score = chance.choice([-1, 0, maximum - 1, maximum, maximum + 1, chance.randint(0, maximum)])
    return {"name": chance.choice(["NDI", "NDI", "house questionnaire"]), "score": score,
            "maximum": maximum}


PAIR_MAKERS = {"mouth_opening_set": opening_set, "lateral_pair": lateral_pair,
               "blood_pressure": blood_pressure, "pain_change": pain_change,
               "opening_gain": opening_gain, "opening_for_mouth_work": mouth_work,
               "weight_change": weight_change, "strength": strength, "reflex": reflex,
               "reflex_pair": reflex_pair, "questionnaire": questionnaire}

THRESHOLDS = TRADE["threshold"]


def change(chance):
    ask = chance.choice(["classify"] * 4 + ["detectable", "ndi_score"])
    if ask == "detectable":
        return {"ask": ask, "sem": plain(Decimal(chance.randint(0, 900)) / chance.choice([1, 10, 100])),
                "level": chance.choice([90, 95])}
    if ask == "ndi_score":
        answered = chance.randint(1, 10)
        return {"ask": ask, "sum": chance.randint(0, 5 * answered), "answered": answered}
    row = chance.choice(THRESHOLDS)
    unit = other = {"percentage points": "percent", "percent of baseline": "points"}.get(
        row["unit"], row["unit"])
    top = {"NPRS": 10, "NDI": 50}.get(row["instrument"], 150)
    baseline = plain(Decimal(chance.randint(0, top * 10)) / 10)
    if flip(chance, 0.2):
        baseline = chance.choice([0, 10, 5])
    size = Decimal(row["value"])
    if row["unit"] == "percent of baseline":
        size = Decimal(baseline) * size / 100
    if row["instrument"] == "NDI":
        unit, other = chance.choice(["points", "percent"]), chance.choice(["points", "percent"])
        if (row["unit"] == "points") != (unit == "points"):
            size = size * 2 if unit == "percent" else size / 2
    size += chance.choice([Decimal(s) for s in ("0", "0", "0.1", "-0.1", "0.0001", "-0.0001", "3")])
    followup = baseline + size * chance.choice([1, -1, 1, -1, 0])
    if unit != other:
        followup = followup * 2 if other == "percent" else followup / 2
    if followup < 0:
        return change(chance)
    return {"ask": ask, "instrument": row["instrument"], "population": row.get("population"),
            "baseline": baseline, "followup": plain(followup), "unit": unit, "followup_unit": other}


# ------------------------------------------------------------------ levels

SEPARATORS = ["-", "/", "\u2013", "", " - ", " ", " / "]
HEADS = ["C", "T", "L", "S", "D", "c", "t", "l", "s", "d"]
OCCIPUT = ["occ", "OCC", "CO", "C0", "co", "c0", "Occ"]
ODD = ["", " ", "C", "5-6", "5", "C-5", "C5-", "-C5", "C5--6", "C5-6-7", "X5", "T", "C5,6", "5C", "C5-C",
       "C5C6C7", "L5S", "C5 and 6", "C5-X6", "TT12", "T12.", "OC1", "S", "C5_6", "C5\u20146"]


def level_word(chance):
    if flip(chance, 0.1):
        return chance.choice(OCCIPUT)
    head = chance.choice(HEADS)
    top = {"C": 8, "T": 14, "D": 14, "L": 7, "S": 3}[head.upper()]
    digits = str(chance.randint(0, top))
    return head + ("0" if flip(chance, 0.04) else "") + digits


def spaced(chance, text):
    """Spaces do not matter."""
    if flip(chance, 0.8):
        return text
    return "".join(letter + (" " if flip(chance, 0.3) else "") for letter in text)


def level_text(chance):
    kind = chance.randrange(10)
    if kind == 0:
        return chance.choice(ODD)
    if kind < 3:
        return level_word(chance)
    if kind < 6:
        # run together: the digits of two numbers after one letter
        n = chance.randint(0, 13)
        return chance.choice(HEADS) + str(n) + str(chance.choice([n + 1, n - 1, n, n + 2, 1]))
    if kind == 6:
        return chance.choice(HEADS) + str(chance.randint(0, 1300))
    if kind == 7:
        column = levels(True)
        at = chance.randrange(len(column) - 1)
        pair = [column[at], column[at + 1]]
        if flip(chance, 0.3):
            pair.reverse()
        return chance.choice(SEPARATORS).join(pair)
    second = level_word(chance)
    if flip(chance) and second[0].upper() in "CTLSD" and second[1:].isdigit():
        second = second[1:]
    return level_word(chance) + chance.choice(SEPARATORS) + second


def segments(chance):
    return {"text": spaced(chance, level_text(chance)), "use": chance.choice(["adjust", "span", "disc"]),
            "transitional": flip(chance, 0.3)}


def regions(chance):
    words = list(WORDS)
    chosen = chance.choices(words, k=chance.choice([0, 1, 2, 3, 5, 8]))
    if flip(chance, 0.2):
        chosen += ["C7-T1", "T12-L1", "L5-S1"][: chance.randint(1, 3)]
    return {"structures": chosen}


