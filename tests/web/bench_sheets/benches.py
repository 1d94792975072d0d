"""Bench sheets for tests: what an inspector types for a four-cylinder engine, and sheets opened, filled and signed."""

from typing import Any
from uuid import UUID

from tests import builders
from tests.builders import put
from tests.conftest import PIN, Logbook, an_id

FILLS = {1: ("76.80", "76.84"), 2: ("76.92", "76.88"), 3: ("76.70", "76.76"), 4: ("76.84", "76.82")}


def pouring() -> dict[str, Any]:
    return {
        "burette": {"nominal": "100", "tolerance_class": "a", "graduation": "0.2"},
        "liquid": "mineral_oil",
        "liquid_temperature": "21.5",
        "liquid_temperature_standard_uncertainty": "1",
        "metal_temperature": "22.0",
        "metal_temperature_standard_uncertainty": "1",
        "metal": "aluminium_on_iron",
        "loss": "0.05",
        "loss_standard_uncertainty": "0.03",
        "trapped_air_at_most": "0.1",
    }


def poured() -> dict[str, Any]:
    """A whole chamber of about 76 cm³ in each cylinder, a ratio of about 10.4."""
    return {
        "pouring": pouring(),
        "plug_hole": "0.8",
        "plug_hole_standard_uncertainty": "0.05",
        "crank_within": "0.5",
        "cylinders": [
            {"cylinder": number, "fills": [{"start": "0.00", "end": end} for end in ends]}
            for number, ends in FILLS.items()
        ],
    }


def taken_down() -> dict[str, Any]:
    """The same engine from its parts."""
    return {
        "pouring": pouring(),
        "plate_flatness": "0.02",
        "gasket": {
            "bore": "103.2",
            "bore_standard_uncertainty": "0.1",
            "thickness": "1.02",
            "thickness_standard_uncertainty": "0.02",
        },
        "crevice": {
            "diametral_clearance": "0.6",
            "diametral_clearance_standard_uncertainty": "0.02",
            "height": "6.0",
            "height_standard_uncertainty": "0.05",
        },
        "deck_clearance_standard_uncertainty": "0.01",
        "crown_depth_standard_uncertainty": "0.01",
        "reliefs_standard_uncertainty": "0.05",
        "plug": "0",
        "plug_standard_uncertainty": "0.05",
        "cylinders": [
            {
                "cylinder": number,
                "head_fills": [{"start": "0.00", "end": end} for end in ("62.40", "62.44")],
                "deck_clearance": "0.25",
                "crown_fills": [{"start": "0.00", "end": "84.60"}],
                "crown_depth": "10.00",
                "reliefs": "1.2",
            }
            for number in range(1, 5)
        ],
    }


def gauged() -> dict[str, Any]:
    """Four bores and strokes, warm by a few kelvin: about 2866 cm³."""
    return {
        "bore_instrument": {"name": "bore gauge set in a ring", "error_limit": "0.005"},
        "stroke_instrument": {"name": "depth micrometer", "error_limit": "0.01"},
        "metal_temperature": "23.0",
        "metal_temperature_standard_uncertainty": "1",
        "instrument_temperature": "22.0",
        "instrument_temperature_standard_uncertainty": "1",
        "block_metal": "cast_iron",
        "crank_metal": "steel",
        "cylinders": [
            {"cylinder": number, "diameters": ["101.605", "101.612", "101.600", "101.608"], "strokes": ["88.39"]}
            for number in range(1, 5)
        ],
    }


OBSERVED = {"liquid_volume": poured, "teardown": taken_down, "dimensional": gauged}
DISPLACEMENT = {
    "quantity": "displacement",
    "clause": "5.2",
    "text": "The displacement may not exceed 2870 cm³.",
    "kind": "maximum",
    "limit": "2870",
    "tolerance": "0",
    "applies_to": "whole_engine",
    "decision_rule": "three_zones",
    "confidence": "0.95",
    "inconclusive_action": "measure_again",
}


def an_engine(book: Logbook, car: str = "41", competitor: str = "competitor") -> UUID:
    """In a class whose edition limits the ratio and, from the second one on, the displacement too."""
    builders.a_class(book)
    edition = {"in_force_from": "2026-04-01", "protest_minutes": 30, "rule": builders.RULE, "further": [DISPLACEMENT]}
    put(book.client("official"), f"/classes/{builders.CLASS}/editions/{an_id('edition with both')}", edition)
    return builders.an_entry(book, car, 4, competitor)


def opened(entry_id: UUID, method: str = "liquid_volume", **changed: Any) -> dict[str, Any]:
    return {
        "entry_id": str(entry_id),
        "method": method,
        "reason": "The first result was inconclusive.",
        "present_for_series": "Ines Tarn",
        "present_for_competitor": "Cleo Fenn",
        "cautions_confirmed": True,
        **changed,
    }


def a_bench_sheet(book: Logbook, entry_id: UUID, method: str = "liquid_volume", name: str = "bench") -> UUID:
    sheet_id = an_id(f"{name} {entry_id} {method}")
    put(book.client("inspector"), f"/bench-sheets/{sheet_id}", opened(entry_id, method))
    return sheet_id


def filled(book: Logbook, sheet_id: UUID, observations: dict[str, Any], **more: Any) -> dict[str, Any]:
    body = {"observations": observations, **more}
    observation_id = an_id(f"observation {sheet_id} {more.get('replaces_id')}")
    return put(book.client("inspector"), f"/bench-sheets/{sheet_id}/observations/{observation_id}", body)


def signed(book: Logbook, sheet_id: UUID) -> dict[str, Any]:
    observation = book.client("inspector").get(f"/api/bench-sheets/{sheet_id}").json()["observation"]
    body = {"observation_id": observation["id"], "pin": PIN}
    return put(book.client("inspector"), f"/bench-sheets/{sheet_id}/sign-off/{an_id(f'verdict {sheet_id}')}", body)


def a_signed_sheet(book: Logbook, entry_id: UUID, method: str = "liquid_volume", name: str = "bench") -> dict[str, Any]:
    sheet_id = a_bench_sheet(book, entry_id, method, name)
    filled(book, sheet_id, OBSERVED[method]())
    return signed(book, sheet_id)
