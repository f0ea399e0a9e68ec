#!/usr/bin/env python3
"""Turns the twelve check words of a slip or receipt into its code, without Inkfast.

    check_words.py slip|receipt NUMBER WORD...

Exit code: 0 the words fit the number, 1 they do not. Written from schema/FORMAT.md, section 7.
"""

import os
import sys

LIST = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "src", "verify", "check-words.txt")
BASE32 = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"
MOD37 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"


def tables():
    """Powers of x in GF(2^10) with x^10 + x^3 + 1 = 0, and their exponents."""
    powers, value = [], 1
    for _ in range(1023):
        powers.append(value)
        value <<= 1
        if value & 0x400:
            value ^= 0x409
    return powers, {value: exponent for exponent, value in enumerate(powers)}


def check_letter(text):
    """ISO/IEC 7064 MOD 37-2: the sum of each value times a power of two is 1 modulo 37."""
    total = sum(MOD37.index(c) * pow(2, len(text) - i, 37) for i, c in enumerate(text))
    return next(c for c in MOD37 if (total + MOD37.index(c)) % 37 == 1)


def code(what, number, words):
    """The code, or None where the words do not fit the number."""
    with open(LIST, encoding="ascii") as file:
        values = {word: index for index, word in enumerate(file.read().split())}
    if len(words) != 12 or any(word not in values for word in words):
        return None
    words = [values[word] for word in words]
    symbols = [{"slip": 1, "receipt": 2}[what]] + [int(d) for d in f"{number:020}"] + words
    powers, exponents = tables()
    plain = weighted = 0
    for place, symbol in enumerate(symbols):
        plain ^= symbol
        if symbol:
            weighted ^= powers[(exponents[symbol] + place) % 1023]
    if plain or weighted:
        return None
    letters = "".join(BASE32[value >> 5] + BASE32[value & 31] for value in words[:10])
    groups = "-".join(letters[i : i + 4] for i in range(0, 20, 4))
    return f"{groups}-{check_letter(letters)}{check_letter(f'{what[0].upper()}{number}{letters}')}"


if __name__ == "__main__":
    found = code(sys.argv[1], int(sys.argv[2]), sys.argv[3:])
    print(found or "THE WORDS DO NOT FIT")
    sys.exit(0 if found else 1)
