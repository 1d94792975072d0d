"""How well the gas temperature is known, by how it was come by. Common practice, no source: generous on purpose."""

STANDARD_UNCERTAINTY_K: dict[str, float] = {
    "thermometer_in_chamber": 1.0,  # a probe through the plug hole, settled
    "coolant_gauge": 6.0,  # the gas lies between coolant and air, and the gauge itself is coarse
    "ambient_on_stand": 2.0,  # engine cold all through, thermometer beside it
}
