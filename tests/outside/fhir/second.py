"""A second opinion on FHIR documents: the model classes of the PyPI package fhir.resources (R4B, the
nearest to R4 that it has), and the words of every narrative: well-formed XHTML with nothing in it but
what FHIR allows (hl7.org/fhir/R4/narrative.html)."""

from __future__ import annotations

import re
from typing import Any, Iterator
from xml.etree import ElementTree

from fhir.resources.R4B.bundle import Bundle
from pydantic import ValidationError

XHTML = "{http://www.w3.org/1999/xhtml}"
# Chapters 7 to 11 of HTML 4.0 but section 4 of chapter 9, without forms and scripts; a, and img.
ELEMENTS = set(
    "a abbr acronym address b big blockquote br caption cite code col colgroup dd dfn div dl dt em h1 h2 h3"
    " h4 h5 h6 hr i img li ol p pre q samp small span strong sub sup table tbody td tfoot th thead tr tt ul"
    " var".split()
)
ATTRIBUTES = set("class colspan rowspan style title id lang dir href src alt name".split())


def faults(text: str, bundle: dict[str, Any]) -> list[dict[str, str]]:
    """What is wrong with a document, by this opinion."""
    found = []
    try:
        Bundle.model_validate_json(text)
    except ValidationError as error:
        for one in error.errors():
            where = ".".join(str(step) for step in one["loc"])
            found.append({"check": "second", "where": where, "what": one["msg"]})
    except Exception as error:  # The classes let some errors of their own through: still a refusal.
        found.append({"check": "second", "where": "Bundle", "what": f"{type(error).__name__}: {error}"})
    for where, div in narratives(bundle, "Bundle"):
        found.extend({"check": "xhtml", "where": where, "what": what} for what in wrong_words(div))
    return found


def narratives(value: Any, where: str) -> Iterator[tuple[str, str]]:
    """Every div of a document."""
    if isinstance(value, list):
        for at, one in enumerate(value):
            yield from narratives(one, f"{where}[{at}]")
    elif isinstance(value, dict):
        for name, one in value.items():
            if name == "div" and isinstance(one, str):
                yield where, one
            else:
                yield from narratives(one, f"{where}.{name}")


def wrong_words(div: str) -> Iterator[str]:
    """What is wrong with one narrative (invariants txt-1 and txt-2)."""
    if "<!DOCTYPE" in div or "<?" in div:
        yield "holds more than one element"
        return
    try:
        root = ElementTree.fromstring(div)
    except ElementTree.ParseError as error:
        yield f"is not well-formed: {error}"
        return
    if root.tag != f"{XHTML}div":
        yield f"begins with {root.tag}"
    for element in root.iter():
        name = str(element.tag).removeprefix(XHTML)
        if name not in ELEMENTS:
            yield f"holds the element {name}"
        for attribute, value in element.attrib.items():
            if attribute not in ATTRIBUTES:
                yield f"{name} has the attribute {attribute}"
            if attribute in ("href", "src") and re.match(r"\s*(javascript|data):", value, re.I):
                yield f"{name} leads to a script"
    if not "".join(root.itertext()).strip() and root.find(f".//{XHTML}img") is None:
        yield "says nothing"
