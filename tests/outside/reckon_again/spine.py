"""What a typed spinal level means (CMS Pub. 100-02 ch. 15, 240.1.4 for the counts and short forms) and the
region a structure counts to (restated definitions of the ten regions)."""

import re

from .common import Invalid, one_of, table

TRADE = table("trade.toml")
REGIONS = TRADE["regions"]


def levels(transitional):
    """Every level, head to foot."""
    book = TRADE["levels"]
    extra = ["L6"] if transitional else []
    return [book["occiput"], *book["cervical"], *book["thoracic"], *book["lumbar"], *extra,
            *book["sacral"]]


def refuse(reason):
    return {"outcome": "refuse", "reason": reason}


def pair(upper, lower, use, column):
    """Two levels, read head to foot."""
    if upper not in column or lower not in column:
        return refuse("no_such_level")
    high, low = sorted((column.index(upper), column.index(lower)))
    if high == low or (use != "span" and low - high != 1):
        return refuse("not_adjacent")
    # no disc at C0-C1 and C1-C2
    if use == "disc" and column[low] in ("C1", "C2"):
        return refuse("no_disc")
    return {"outcome": "reads", "reads": f"{column[high]}-{column[low]}"}


def run_together(letter, digits, use, column):
    """One letter and digits: as one number, and every cut into n and n + 1."""
    singles = [letter + digits] if letter + digits in column else []
    pairs = []
    for cut in range(1, len(digits)):
        upper, lower = digits[:cut], digits[cut:]
        exist = letter + upper in column and letter + lower in column
        if exist and int(lower) == int(upper) + 1:
            pairs.append((letter + upper, letter + lower))
    readings = singles + [f"{a}-{b}" for a, b in pairs]
    if not readings:
        return refuse("no_such_level")
    if len(readings) > 1:
        return {"outcome": "ask", "readings": readings}
    if singles:
        return {"outcome": "reads", "reads": singles[0]}
    return pair(*pairs[0], use, column)


def segments(question):
    use = one_of(question.get("use"), ("adjust", "span", "disc"), "use")
    column = levels(question.get("transitional"))
    # only plain letters: some others turn into plain ones when made capitals
    text = re.sub(r"\s", "", question["text"])
    text = "".join(letter.upper() if letter.isascii() else letter for letter in text)
    text = re.sub(r"[/\u2013]", "-", text)
    text = re.sub(r"OCCIPUT|OCC|CO", "C0", text).replace("D", "T")
    one = re.fullmatch(r"([CTLS])([0-9]+)", text)
    if one:
        return run_together(one[1], one[2], use, column)
    two = re.fullmatch(r"([CTLS])([0-9]+)-?([CTLS])([0-9]+)", text)
    if two:
        return pair(two[1] + two[2], two[3] + two[4], use, column)
    short = re.fullmatch(r"([CTLS])([0-9]+)-([0-9]+)", text)
    if short:
        # a number without a letter takes the letter before it
        return pair(short[1] + short[2], short[1] + short[3], use, column)
    return refuse("unreadable")


# ------------------------------------------------------------------ regions

SIDED = {"SI": "pelvic", "ilium": "pelvic", "TMJ": "head"}
SIDED |= dict.fromkeys(("shoulder", "elbow", "wrist", "hand"), "upper_extremity")
SIDED |= dict.fromkeys(("hip", "knee", "ankle", "foot"), "lower_extremity")
PLAIN = {"sacrum": "sacral", "coccyx": "sacral", "skull": "head", "abdomen": "abdomen"}
# ribs 1 to 12; the breastbone is met by 1 to 7
RIBS = {"costovertebral": ("thoracic", 12), "costotransverse": ("thoracic", 12),
        "rib": ("rib_cage", 12), "sternocostal": ("rib_cage", 7)}
BY_LETTER = {"C": "cervical", "T": "thoracic", "L": "lumbar"}


def words():
    """Every structure word of the table with its region; 'ask' for a joint between two regions."""
    result = dict(PLAIN)
    for side in "LR":
        for name, region in SIDED.items():
            result[f"{name}-{side}"] = region
        for name, (region, last) in RIBS.items():
            for rib in range(1, last + 1):
                result[f"{name}-{rib}-{side}"] = region
    column = levels(False)
    for level in column[:-1]:
        result[level] = BY_LETTER[level[0]]
    for upper, lower in zip(column, column[1:]):
        same = upper[0] == lower[0]
        result[f"{upper}-{lower}"] = BY_LETTER[upper[0]] if same else "ask"
    return result


WORDS = words()


def regions(question):
    found, ask = set(), []
    for word in question["structures"]:
        if word not in WORDS:
            raise Invalid(f"no structure {word}")
        if WORDS[word] == "ask":
            if word not in ask:
                ask.append(word)
        else:
            found.add(WORDS[word])
    spinal = [name for name in REGIONS["spinal"] if name in found]
    band = "none"
    for row in REGIONS["bands"]:
        if row["from"] <= len(spinal) <= row["to"]:
            band = row["band"]
    return {"spinal": spinal, "extraspinal": [n for n in REGIONS["extraspinal"] if n in found],
            "band": band, "ask": ask}
