"""Dates, amounts and tables every rule needs. No rule of the trade is decided here."""

import datetime
import json
import os
import re
import tomllib
from decimal import Decimal

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "..")
TABLES = os.path.join(ROOT, "src", "record", "tables")
GIVEN = os.path.join(ROOT, "tests", "data", "reckon", "checks-given.json")


class Invalid(Exception):
    """The question has no answer under the rule's text; it is never sent to the program."""


def table(name):
    """One shipped table; decimal figures stay decimal."""
    with open(os.path.join(TABLES, name), "rb") as file:
        return tomllib.load(file, parse_float=Decimal)


def read_json(text):
    """JSON with decimal, not binary, fractions."""
    return json.loads(text, parse_float=Decimal)


class _Exact(json.JSONEncoder):
    """Writes a decimal with the very digits it has."""

    def default(self, value):
        if isinstance(value, Decimal):
            return f"@@{value:f}@@"
        return super().default(value)


def write_json(value):
    text = json.dumps(value, cls=_Exact, ensure_ascii=False)
    return re.sub(r'"@@(-?[0-9.]+)@@"', r"\1", text)


def day(text):
    """A calendar date; anything else is no question."""
    if not isinstance(text, str) or not re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        raise Invalid(f"not a date: {text!r}")
    try:
        return datetime.date.fromisoformat(text)
    except ValueError as error:
        raise Invalid(str(error)) from error


def day_or_none(text):
    return None if text is None else day(text)


def instant(text):
    """An RFC 3339 instant with its own offset."""
    if not isinstance(text, str):
        raise Invalid(f"not an instant: {text!r}")
    try:
        value = datetime.datetime.fromisoformat(text)
    except ValueError as error:
        raise Invalid(str(error)) from error
    if value.tzinfo is None:
        raise Invalid(f"no offset: {text}")
    return value


def instant_or_none(text):
    return None if text is None else instant(text)


def is_leap(year):
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def plus_years(start, years, leap_day):
    """29 February plus years is 29 February where the year has one, else what leap_day says."""
    year = start.year + years
    if (start.month, start.day) != (2, 29) or is_leap(year):
        return start.replace(year=year)
    if leap_day == "mar1":
        return datetime.date(year, 3, 1)
    if leap_day == "feb28":
        return datetime.date(year, 2, 28)
    raise Invalid(f"leap_day: {leap_day!r}")


def plus_months(start, months):
    """Same day number in the other month, or that month's last day."""
    month = start.year * 12 + start.month - 1 + months
    year, month = divmod(month, 12)
    month += 1
    lengths = [31, 29 if is_leap(year) else 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    return datetime.date(year, month, min(start.day, lengths[month - 1]))


def age_on(born, on, leap_day):
    """Whole years: an age is attained at the start of the anniversary of birth."""
    if on < born:
        raise Invalid("before birth")
    years = on.year - born.year
    return years if plus_years(born, years, leap_day) <= on else years - 1


def blank(text):
    return text is None or not str(text).strip()


def one_of(value, words, what):
    if value not in words:
        raise Invalid(f"{what}: {value!r}")
    return value


def need(question, *names):
    for name in names:
        if question.get(name) is None:
            raise Invalid(f"{name} is missing")
    return [question[name] for name in names]
