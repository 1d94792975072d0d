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
DISTRIBUTIONS = {"t": "Student’s t", "one-sided": "one-sided, from the step of the crank"}
FORMULA = {
    "acoustic_resonance": (
        "r = 1 + Vs/Vc",
        "Vc = Vi·T/Ti − Vs·s",
        "Vi = (D/N)/(ri − 1)",
        "Vs = π/4·B²·S",
    )
}
FORMULA_WORDS = {
    "acoustic_resonance": (
        "ri is the mean indication of the cylinder, free of the instrument’s error. With displacement D and cylinder "
        "count N as dialled it gives back the volume Vi that the instrument heard at the temperature Ti set on it. A "
        "tone fixes a volume only through the speed of sound, and its square goes with the temperature: in gas at T "
        "(both in kelvin) the chamber is Vi·T/Ti. s is the share of the stroke by which the piston stood below top "
        "dead centre (0 when the crank is turned smoothly through it). Bore B and stroke S give the swept volume Vs."
    )
}
COVERED = "The stated accuracy is taken to cover the air’s humidity, the adapter and the piston’s position too."
COVERED_NOT_CRANK = "The stated accuracy is taken to cover the air’s humidity and the adapter too."
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


def covering(rule: Mapping[str, Any]) -> str:
    """Said where the edition's tolerance is meant to cover the measurement's uncertainty already."""
    if not rule.get("tolerance_covers_uncertainty"):
        return ""
    return "The edition says that its tolerance covers the uncertainty of measurement: no guard band comes on top."


def whose_risk(result: Mapping[str, Any], rule: Mapping[str, Any]) -> str:
    """For what the stated confidence holds; empty on a slip of a core that judged each result by itself."""
    decided, judged = result["decided"], int(result.get("judged", 0))
    if not judged or judged == 1:
        return ""
    said = []
    if rule["decision_rule"] in {"guarded_rejection", "three_zones"} and decided["rejection_limit"] is not None:
        said.append(
            f"The rejection limit holds for the engine: k = {float(result['rejection_factor']):.2f} is the factor "
            f"of the greatest of {judged} errors."
        )
    if rule["decision_rule"] in {"guarded_acceptance", "three_zones"} and decided["acceptance_limit"] is not None:
        said.append(f"The acceptance limit is for one cylinder: k = {float(result['acceptance_factor']):.2f}.")
    return " ".join(said)


def validated(opinion: Mapping[str, Any] | None) -> str:
    """Whether the simulation bears the budget out, in one sentence or two. JCGM 101:2008, clause 8."""
    if opinion is None:
        return "Not validated by simulation: an input is so uncertain that it cannot be drawn."
    drawn, _, *ends = opinion["sentences"]
    if opinion["validated"]:
        return f"Validated by simulation (JCGM 101:2008, clause 8). {' '.join(ends)}"
    return f"Not validated by simulation (JCGM 101:2008, clause 8): {lowered(' '.join(ends) or drawn)}"


def lowered(words: str) -> str:
    return words[:1].lower() + words[1:]


def per_cent(fraction: str) -> str:
    hundredfold = f"{float(fraction) * 100:.2f}".rstrip("0").rstrip(".")
    return f"{hundredfold} %"


def degrees(text: str) -> str:
    number = float(text)
    return "unlimited" if number > 999 else f"{number:.0f}"


def number_of(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"


def said(words: Mapping[str, str], key: str) -> str:
    """A key of a later version is shown as it stands rather than hidden."""
    return words.get(key, key.replace("_", " "))
