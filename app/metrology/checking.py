"""What cannot be is refused here, each with its sentence, before anything is computed."""

from app.metrology.inputs import AssessmentInputs


def check_inputs(inputs: AssessmentInputs) -> None:
    """Raises MeasurementError at the first input that cannot be."""
