"""The slip's words: what stands in the record as a key is said here in a sentence a steward can weigh."""

from collections.abc import Mapping
from typing import Any

METHODS = {
    "acoustic_resonance": "Acoustic resonance of the closed chamber, through the spark-plug hole, without teardown"
}
STAGES = {"opening": "at opening", "during": "during the day", "closing": "at closing"}
KINDS = {"maximum": "at most", "minimum": "at least", "range": "between"}
APPLIES_TO = {
    "every_cylinder": "every cylinder by itself",
    "mean_of_cylinders": "the mean of all cylinders",
    "designated_cylinder": "the designated cylinder alone",
    "whole_engine": "the engine as a whole",
}
ACTIONS = {
    "measure_again": "Measure again before anything is decided.",
    "teardown": "Take the engine apart and measure directly.",
    "benefit_of_doubt": "The competitor has the benefit of the doubt: the engine may run.",
}
TEMPERATURE_SOURCES = {
    "thermometer_in_chamber": "thermometer in the chamber",
    "coolant_gauge": "coolant gauge",
    "ambient_on_stand": "ambient air, engine cold on a stand",
}
ACCURACY_MEANINGS = {
    "limits": "limits of error",
    "expanded_k2": "expanded uncertainty, k = 2",
    "standard": "standard uncertainty",
}
ACKNOWLEDGEMENTS = {
    "drawn": "I have seen this result.",
    "typed": "I have seen this result.",
    "refused": "Refused to sign.",
    "not_present": "Nobody was present for the competitor.",
}
VERDICT_SENTENCES = {
    "conforming": "Conforms to the rule.",
    "nonconforming": "Does not conform to the rule.",
    "inconclusive": "This measurement does not decide.",
}
DECLARED = "bore, stroke and displacement are the competitor’s figures, not measured here; r holds if they do"
COVERED = "The stated accuracy is taken to cover the air’s humidity, the adapter and the piston’s position too."
BORNE_OUT = "within the accuracy, not corrected for"
NOT_BORNE_OUT = "beyond the accuracy, so the budget takes wider limits; not corrected for"
REPEATED = "The record inside this file holds every reading; any program can repeat the verdict from it."


def decision_rule(rule: Mapping[str, Any]) -> tuple[str, str]:
    """(what the rule does, who bears the doubt). JCGM 106:2012, clause 8; ILAC-G8:09/2019, 4.2."""
    certainty = f"{per_cent(rule['confidence'])}"
    match rule["decision_rule"]:
        case "simple_acceptance":
            return (
                "Simple acceptance: the measured value alone is held against the limit with its tolerance.",
                "Both sides share the doubt: close to the limit the verdict may be wrong in up to one case of two.",
            )
        case "guarded_acceptance":
            return (
                f"Guarded acceptance: conforming only when at least {certainty} probable, otherwise nonconforming.",
                "The competitor bears the doubt.",
            )
        case "guarded_rejection":
            return (
                f"Guarded rejection: nonconforming only when at least {certainty} probable, otherwise conforming.",
                "The series bears the doubt.",
            )
        case _:
            lenient = rule["inconclusive_action"] == "benefit_of_doubt"
            return (
                f"Three zones: conforming or nonconforming only when at least {certainty} probable, "
                "inconclusive between.",
                "The series bears the doubt." if lenient else "Neither side bears the doubt: it is cleared up first.",
            )


def per_cent(fraction: str) -> str:
    hundredfold = f"{float(fraction) * 100:.2f}".rstrip("0").rstrip(".")
    return f"{hundredfold} %"


def number_of(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"


def said(words: Mapping[str, str], key: str) -> str:
    """A key of a later version is shown as it stands rather than hidden."""
    return words.get(key, key.replace("_", " "))
