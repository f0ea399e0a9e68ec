"""Documents that are wrong on purpose. Each case changes one thing in a right document and names the
checks that may refuse it: one of them must. A case that finds nothing to change is itself a fault."""

from __future__ import annotations

import copy
from typing import Any, Callable

Document = dict[str, Any]


def first(document: Document, kind: str, having: str | None = None) -> dict[str, Any]:
    """The first resource of a kind that has a member."""
    for entry in document["entry"]:
        resource = entry["resource"]
        if resource["resourceType"] == kind and (having is None or having in resource):
            return resource
    raise LookupError(f"the right document has no {kind} with {having}")


def without(kind: str, member: str) -> Callable[[Document], None]:
    """Takes a member out."""

    def change(document: Document) -> None:
        del first(document, kind, member)[member]

    return change


def put(kind: str, member: str, value: Any) -> Callable[[Document], None]:
    """Puts another value in."""

    def change(document: Document) -> None:
        resource = first(document, kind, member)
        assert resource[member] != value
        resource[member] = value

    return change


def at_top(member: str, value: Any = None) -> Callable[[Document], None]:
    """Changes a member of the Bundle, or takes it out."""

    def change(document: Document) -> None:
        del document[member]
        if value is not None:
            document[member] = value

    return change


def add(kind: str, member: str, value: Any) -> Callable[[Document], None]:
    """Puts in what was not there."""

    def change(document: Document) -> None:
        resource = first(document, kind)
        assert member not in resource
        resource[member] = value

    return change


def same_name_twice(document: Document) -> None:
    document["entry"][4]["fullUrl"] = document["entry"][3]["fullUrl"]


def name_of_a_version(document: Document) -> None:
    document["entry"][-1]["fullUrl"] = "https://records.example/Provenance/1/_history/2"


def composition_second(document: Document) -> None:
    document["entry"][:2] = reversed(document["entry"][:2])


def dangling(document: Document) -> None:
    first(document, "Procedure")["subject"]["reference"] = "urn:uuid:00000000-0000-4000-8000-000000000000"


def relative(document: Document) -> None:
    first(document, "Consent")["patient"]["reference"] = "Patient/1"


def to_another_type(document: Document) -> None:
    observation = first(document, "Observation", "encounter")
    observation["encounter"] = copy.deepcopy(observation["subject"])


def stray(document: Document) -> None:
    one = copy.deepcopy(first(document, "Flag") if has(document, "Flag") else first(document, "Condition"))
    one["id"] = "stray"
    document["entry"].append({"fullUrl": "urn:uuid:11111111-1111-4111-8111-111111111111", "resource": one})


def has(document: Document, kind: str) -> bool:
    return any(entry["resource"]["resourceType"] == kind for entry in document["entry"])


def broken_words(document: Document) -> None:
    first(document, "Encounter")["text"]["div"] = '<div xmlns="http://www.w3.org/1999/xhtml"><p>open</div>'


def script_in_words(document: Document) -> None:
    div = '<div xmlns="http://www.w3.org/1999/xhtml"><script>alert(1)</script></div>'
    first(document, "Encounter")["text"]["div"] = div


def words_that_say_nothing(document: Document) -> None:
    first(document, "Encounter")["text"]["div"] = '<div xmlns="http://www.w3.org/1999/xhtml"> </div>'


def quantity(document: Document) -> dict[str, Any]:
    return first(document, "Observation", "valueQuantity")["valueQuantity"]


def unknown_unit(document: Document) -> None:
    quantity(document)["code"] = "millimetres"


def unit_without_system(document: Document) -> None:
    del quantity(document)["system"]


def number_as_text(document: Document) -> None:
    quantity(document)["value"] = "34"


def value_and_reason(document: Document) -> None:
    first(document, "Observation", "valueQuantity")["dataAbsentReason"] = {"text": "not measured"}


def two_values(document: Document) -> None:
    first(document, "Observation", "valueQuantity")["valueString"] = "34"


def backwards(document: Document) -> None:
    period = first(document, "Encounter", "period")["period"]
    period["end"] = "1999-01-01T00:00:00Z"


def unknown_code(document: Document) -> None:
    first(document, "Observation", "category")["category"][0]["coding"][0]["code"] = "examination"


def unknown_system(document: Document) -> None:
    coding = first(document, "Provenance", "activity")["activity"]["coding"][0]
    coding["system"] = "http://terminology.hl7.org/CodeSystem/data-operations"


def section_of_nothing(document: Document) -> None:
    section = first(document, "Composition")["section"]
    section.append({"title": "Nothing", "code": {"text": "nothing"}})


def empty_and_full(document: Document) -> None:
    for section in first(document, "Composition")["section"]:
        if section.get("entry"):
            section["emptyReason"] = {"text": "withheld"}
            return
    raise LookupError("no section with entries")


def empty_list(document: Document) -> None:
    first(document, "Patient")["telecom"] = []


def empty_text(document: Document) -> None:
    first(document, "Patient")["name"][0]["text"] = ""


def no_agent(document: Document) -> None:
    del first(document, "Provenance")["agent"]


def allergy_without_status(document: Document) -> None:
    del first(document, "AllergyIntolerance", "clinicalStatus")["clinicalStatus"]


def contact_without_system(document: Document) -> None:
    del first(document, "Patient", "telecom")["telecom"][0]["system"]


# Name, change, and the checks of which at least one must refuse it.
CASES: list[tuple[str, Callable[[Document], None], set[str]]] = [
    ("Consent without its status", without("Consent", "status"), {"structure"}),
    ("Consent with a status R4 does not have", put("Consent", "status", "withdrawn"), {"structure"}),
    ("Consent without its scope", without("Consent", "scope"), {"structure"}),
    ("Consent without policy or rule", without("Consent", "policyRule"), {"ppc-1"}),
    ("Consent to treatment without a patient", without("Consent", "patient"), {"ppc-5"}),
    ("Consent of no kind", without("Consent", "category"), {"structure"}),
    ("a member R4 does not have", add("Encounter", "mood", "good"), {"structure"}),
    ("a month that does not exist", put("Procedure", "performedDateTime", "2025-13-01"), {"datatype"}),
    ("a day that does not exist", put("Procedure", "performedDateTime", "2025-02-30"), {"datatype"}),
    ("a time without its zone", put("Provenance", "recorded", "2025-03-11T09:40:00"), {"datatype"}),
    ("Provenance without when it was recorded", without("Provenance", "recorded"), {"structure"}),
    ("Provenance without who", no_agent, {"structure"}),
    ("Provenance without a target", without("Provenance", "target"), {"structure"}),
    ("a document without identifier", at_top("identifier"), {"bdl-9"}),
    ("an identifier without its system", at_top("identifier", {"value": "1"}), {"bdl-9"}),
    ("a document without timestamp", at_top("timestamp"), {"bdl-10"}),
    ("a document that begins with another resource", composition_second, {"bdl-11"}),
    ("the same name for two resources", same_name_twice, {"bdl-7"}),
    ("the name of a version", name_of_a_version, {"bdl-8"}),
    ("a total, as only a search has", lambda d: d.update(total=3), {"bdl-1"}),
    ("a reference to nothing", dangling, {"reference"}),
    ("a reference out of the document", relative, {"reference"}),
    ("a visit that is a patient", to_another_type, {"reference"}),
    ("a resource that hangs on nothing", stray, {"reachable"}),
    ("Encounter with a status R4 does not have", put("Encounter", "status", "over"), {"structure"}),
    ("a visit that ends before it began", backwards, {"per-1"}),
    ("words that are not well-formed", broken_words, {"xhtml"}),
    ("a script among the words", script_in_words, {"xhtml"}),
    ("words that say nothing", words_that_say_nothing, {"xhtml"}),
    ("a resource without words", without("Procedure", "text"), {"dom-6"}),
    ("a unit UCUM does not have", unknown_unit, {"unit"}),
    ("a unit's code without its system", unit_without_system, {"qty-3"}),
    ("a number written as text", number_as_text, {"structure", "datatype"}),
    ("a value beside the reason why there is none", value_and_reason, {"obs-6"}),
    ("two values at once", two_values, {"datatype"}),
    ("a code HL7's own list does not have", unknown_code, {"code"}),
    ("a list HL7 does not have", unknown_system, {"code"}),
    ("a section with nothing in it", section_of_nothing, {"cmp-1"}),
    ("a section that is empty and is not", empty_and_full, {"cmp-2"}),
    ("an empty list", empty_list, {"datatype"}),
    ("an empty text", empty_text, {"datatype"}),
    ("an allergy without its status", allergy_without_status, {"ait-1"}),
    ("a telephone number of no system", contact_without_system, {"cpt-2"}),
]


def wrong_documents(right: Document) -> list[tuple[str, Document, set[str]]]:
    """Every case, made from a right document."""
    out = []
    for name, change, checks in CASES:
        document = copy.deepcopy(right)
        change(document)
        assert document != right, name
        out.append((name, document, checks))
    return out
