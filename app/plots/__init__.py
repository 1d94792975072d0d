"""Interval pictures for pages and printed slips: pure geometry and sentences, no web."""

from app.plots.axis import (
    Axis,
    Limits,
    axis_between,
    axis_for,
    field,
    label_of,
    limits_of,
    number,
    share,
    shown,
    strip_axis,
    strip_limits,
)
from app.plots.control import ControlLines, ControlPicture, ControlPoint, control_picture
from app.plots.curve import CurvePicture, curve_picture, curve_span
from app.plots.picture import Picture, Strip, interval_picture, strip_picture
from app.plots.reported import likelihood, reported
from app.plots.sentences import VERDICT_WORDS, description, pictured, pictured_row, sentence

__all__ = [
    "VERDICT_WORDS",
    "Axis",
    "ControlLines",
    "ControlPicture",
    "ControlPoint",
    "CurvePicture",
    "Limits",
    "Picture",
    "Strip",
    "axis_between",
    "axis_for",
    "control_picture",
    "curve_picture",
    "curve_span",
    "description",
    "field",
    "interval_picture",
    "label_of",
    "likelihood",
    "limits_of",
    "number",
    "pictured",
    "pictured_row",
    "reported",
    "sentence",
    "share",
    "shown",
    "strip_axis",
    "strip_limits",
    "strip_picture",
]
