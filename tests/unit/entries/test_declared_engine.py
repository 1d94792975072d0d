"""A declared displacement against bore and stroke, and one engine against another."""

from decimal import Decimal

import pytest

from app.entries.geometry import Geometry, changes, doubt


def an_engine(
    cylinders: int = 4, bore: str = "86", stroke: str = "86", displacement: str = "1998", seals: tuple[str, ...] = ()
) -> Geometry:
    return Geometry(cylinders, Decimal(bore), Decimal(stroke), Decimal(displacement), seals)


def test_displacement_follows_from_bore_stroke_and_cylinders() -> None:
    # n · π/4 · B² · S, from the definition; the common "350" engine: 4.000 in × 3.480 in × 8 = 349.85 in³
    assert an_engine().computed_displacement_cm3 == Decimal("1998.23")
    eight = an_engine(8, "101.6", "88.392", "5735.4724")
    assert float(eight.computed_displacement_cm3) / 16.387064 == pytest.approx(349.848, abs=0.001)


@pytest.mark.parametrize(("displacement", "said"), [("1998", ""), ("2038", ""), ("1959", ""), ("2039", "2.0 % apart")])
def test_up_to_two_hundredths_apart_nothing_is_said(displacement: str, said: str) -> None:
    found = doubt(an_engine(displacement=displacement))
    assert bool(found) == bool(said)
    assert said in found


def test_rounding_between_the_unit_systems_is_no_change() -> None:
    kept = an_engine(8, "101.6", "88.392", "5735.4724", ("1", "2"))
    assert changes(kept, an_engine(8, "101.60", "88.39", "5735", ("2", "1"))) == []
    assert changes(kept, an_engine(8, "101.60", "88.39", "5735")) == []


def test_each_change_is_said_in_both_unit_systems() -> None:
    kept = an_engine(seals=("11",))
    asked = an_engine(6, "86.1", "86", "2010", ("12",))
    assert changes(kept, asked) == [
        "cylinders 4, now 6",
        "bore 86 mm (3.3858 in), now 86.1 mm (3.3898 in)",
        "displacement 1998 cm³ (121.93 in³), now 2010 cm³ (122.66 in³)",
        "seals 11, now 12",
    ]
