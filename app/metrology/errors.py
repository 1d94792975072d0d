"""The one error of the core."""


class MeasurementError(ValueError):
    """An input that cannot be: `field` is its dotted place, `sentence` says what is wrong and how to mend it."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field
        self.sentence = sentence
