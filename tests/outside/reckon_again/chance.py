"""Random dates and instants that like to fall on the awkward days."""

import datetime

from .common import is_leap, plus_months, plus_years

DAY = datetime.timedelta(days=1)
OFFSETS = ["Z", "+00:00", "-05:00", "-04:00", "+05:30", "-09:30", "+13:00", "-11:00", "+01:00"]
EDGES = [(2, 28), (2, 29), (3, 1), (12, 31), (1, 1), (1, 31), (4, 30), (5, 31), (8, 31), (11, 30)]


def date(chance, first=1930, last=2035):
    year = chance.randint(first, last)
    if chance.random() < 0.25:
        # leap years, and now and then a century that is none
        year = chance.choice([y for y in range(first, last + 1) if is_leap(y)] or [year])
    if chance.random() < 0.4:
        month, day = chance.choice(EDGES)
        if (month, day) == (2, 29) and not is_leap(year):
            day = 28
        return datetime.date(year, month, day)
    return datetime.date(year, 1, 1) + chance.randrange(365) * DAY


def near(chance, center, spread=1):
    return center + chance.randint(-spread, spread) * DAY


def anniversary(chance, start, years):
    """A day at or beside an anniversary of a date."""
    return near(chance, plus_years(start, years, chance.choice(["mar1", "feb28"])))


def months_off(chance, start, months):
    return near(chance, plus_months(start, months))


def maybe(chance, value, odds=0.5):
    return value if chance.random() < odds else None


def sometimes(chance, question, name, value, odds=0.5):
    """An optional field: there, null or left out."""
    if chance.random() < odds:
        question[name] = value
    elif chance.random() < 0.5:
        question[name] = None


def flip(chance, odds=0.5):
    return chance.random() < odds


def instant(chance, on, offset=None):
    offset = offset or chance.choice(OFFSETS)
    clock = chance.choice(["00:00:00", "23:59:59", "23:59:00", "12:00:00", "00:00:01", "04:59:00",
                           f"{chance.randrange(24):02}:{chance.randrange(60):02}:00"])
    # an instant may carry a fraction of a second
    fraction = ".250" if chance.random() < 0.02 else ""
    return f"{on}T{clock}{fraction}{offset}"


def shifted(chance, text, seconds):
    """The same instant some seconds later, perhaps written in another offset."""
    value = datetime.datetime.fromisoformat(text) + datetime.timedelta(seconds=seconds)
    if flip(chance):
        offset = chance.choice(OFFSETS)
        zone = datetime.datetime.fromisoformat("2000-01-01T00:00:00" + offset).tzinfo
        value = value.astimezone(zone)
    return value.isoformat()


def subset(chance, words, most=None):
    most = len(words) if most is None else min(most, len(words))
    return chance.sample(words, chance.randint(0, most))
