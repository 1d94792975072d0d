"""Volumes of an engine and the ratio between them."""

import math


def swept_volume_cm3(bore_mm: float, stroke_mm: float) -> float:
    """Vs = π/4·B²·S of one cylinder in cm³, from millimetres."""
    return math.pi / 4.0 * bore_mm**2 * stroke_mm / 1000.0


def displacement_cm3(bore_mm: float, stroke_mm: float, cylinders: int) -> float:
    """The swept volume of all cylinders in cm³, from millimetres."""
    return swept_volume_cm3(bore_mm, stroke_mm) * cylinders


def compression_ratio(swept_cm3: float, clearance_cm3: float) -> float:
    """r = 1 + Vs/Vc, both volumes of one cylinder in the same unit."""
    return 1.0 + swept_cm3 / clearance_cm3


def clearance_volume_cm3(swept_cm3: float, ratio: float) -> float:
    """Vc = Vs/(r − 1) in cm³. Dividing by r instead of r − 1 is the common slip."""
    return swept_cm3 / (ratio - 1.0)
