"""Inputs and results as they are kept with a verdict for years: plain JSON types, every number as decimal text.

Form 3 has what adopted studies found: how well the effect of the airflow is known, and what inspectors differ by.
Form 2 named the measuring method, and what it observes stands under `observations`. Form 1 knew acoustic resonance
only. All of them are read, and the older ones give the same inputs that they gave then.
"""

from app.metrology.errors import MeasurementError
from app.metrology.frozen import Data, from_data, to_data
from app.metrology.inputs import AssessmentInputs, Engine, Rule
from app.metrology.methods import METHODS, acoustic_resonance
from app.metrology.results import Assessment

INPUTS_FORM = "3"  # of the frozen inputs; rises when an entry is added, and older forms stay readable


def inputs_to_data(inputs: AssessmentInputs) -> dict[str, Data]:
    """Plain JSON types; `inputs_from_data` reads it back exactly."""
    return {"form": INPUTS_FORM, **to_data(inputs)}


def inputs_from_data(data: Data) -> AssessmentInputs:
    """The frozen inputs again. Strict: raises MeasurementError on a missing, unknown or misshapen entry."""
    if not isinstance(data, dict) or data.get("form") not in ("1", "2", INPUTS_FORM):
        raise MeasurementError(
            "inputs.form", f"These inputs are of no form that is read here. Forms 1, 2 and {INPUTS_FORM} are."
        )
    plain = {name: entry for name, entry in data.items() if name != "form"}
    if data["form"] == "1":
        plain = _from_form_1(plain)
    if data["form"] != INPUTS_FORM:
        plain = _from_form_2(plain)
    method = METHODS.get(str(plain.get("method")))
    if method is None:
        raise MeasurementError(
            "inputs.method", f"inputs.method has to be a measuring method known here: {', '.join(METHODS)}."
        )
    observed = from_data(method.observations, plain.pop("observations", None), "inputs.observations")
    return from_inputs(plain, observed)


def from_inputs(plain: dict[str, Data], observed: object) -> AssessmentInputs:
    """All but the observations, which depend on the method."""
    expected = {"method", "engine", "rule", "coverage_probability"}
    odd = sorted(set(plain) ^ expected)
    if odd:
        raise MeasurementError(
            "inputs",
            f"inputs has to hold exactly {', '.join(sorted(expected))} and observations; at odds: {', '.join(odd)}.",
        )
    return AssessmentInputs(
        method=str(plain["method"]),
        engine=from_data(Engine, plain["engine"], "inputs.engine"),
        observations=observed,
        rule=from_data(Rule, plain["rule"], "inputs.rule"),
        coverage_probability=from_data(float, plain["coverage_probability"], "inputs.coverage_probability"),
    )


_NEW_IN_FORM_2: dict[str, dict[str, Data]] = {
    "instrument": {"airflow_tolerance_l_min": "0.0", "airflow_sensitivity": None},
    "conditions": {"crank_step_degrees": "0.0", "rod_ratio": "1.75"},
    "rule": {
        "quantity": "compression_ratio",
        "lower_limit": None,
        "designated_cylinder": None,
        "tolerance_covers_uncertainty": False,
    },
}


def _from_form_1(plain: dict[str, Data]) -> dict[str, Data]:
    """Entries that form 2 added take what held then: no airflow study, a smoothly turned crank, one-sided limits."""

    def extended(name: str) -> Data:
        entry = plain.get(name)
        return {**entry, **_NEW_IN_FORM_2[name]} if isinstance(entry, dict) else entry

    observed = {name: plain.get(name) for name in ("settings", "readings", "repeatability")}
    rest = {name: entry for name, entry in plain.items() if name not in (*observed, "instrument", "conditions")}
    instrument = plain.get("instrument")
    return {
        **rest,
        "method": instrument.get("method") if isinstance(instrument, dict) else None,
        "rule": extended("rule"),
        "observations": {
            **observed,
            "instrument": extended("instrument"),
            "conditions": extended("conditions"),
            "checks": [],
        },
    }


def _from_form_2(plain: dict[str, Data]) -> dict[str, Data]:
    """Entries that form 3 added to acoustic resonance: a slope held for exact, and no gauge study."""
    observed = plain.get("observations")
    if plain.get("method") != acoustic_resonance.METHOD.key or not isinstance(observed, dict):
        return plain
    observed = _with(observed, "reproducibility", None, "inputs.observations")
    instrument = observed.get("instrument")
    if isinstance(instrument, dict):
        name = "airflow_sensitivity_standard_uncertainty"
        observed["instrument"] = _with(instrument, name, "0.0", "inputs.observations.instrument")
    return {**plain, "observations": observed}


def _with(entry: dict[str, Data], name: str, value: Data, field: str) -> dict[str, Data]:
    """Nothing that came under an older form's name is dropped unseen."""
    if name in entry:
        raise MeasurementError(field, f"{field} holds {name}, which only form {INPUTS_FORM} knows.")
    return {**entry, name: value}


def assessment_to_data(assessment: Assessment) -> dict[str, Data]:
    """Plain JSON types, numbers as decimal text ("inf" for infinite)."""
    data: dict[str, Data] = to_data(assessment)
    return data
