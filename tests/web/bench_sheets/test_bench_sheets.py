"""The bench sheet over the API: what it takes, what it refuses and in which words, and what it never forgets."""

import hashlib
import json
from typing import Any
from uuid import UUID

import pytest
import rfc8785
from sqlalchemy import select

from app.audit import LogEntry
from app.bench_sheets.models import BenchVerdict
from app.metrology.assessment import assess, assessment_to_data, inputs_from_data
from tests import builders
from tests.builders import put
from tests.conftest import PIN, Logbook, an_id
from tests.web.bench_sheets import benches
from tests.web.bench_sheets.benches import OBSERVED


@pytest.fixture
def entry(logbook: Logbook) -> UUID:
    return benches.an_engine(logbook)


@pytest.fixture
def sheet(logbook: Logbook, entry: UUID) -> UUID:
    return benches.a_bench_sheet(logbook, entry)


def frozen(book: Logbook, sheet_id: str) -> BenchVerdict:
    with book.database.read() as session:
        return session.scalars(select(BenchVerdict).where(BenchVerdict.sheet_id == UUID(sheet_id))).one()


@pytest.mark.parametrize("method", OBSERVED)
def test_the_signed_result_follows_from_its_frozen_inputs_and_its_digest_from_both(
    logbook: Logbook, entry: UUID, method: str
) -> None:
    view = benches.a_signed_sheet(logbook, entry, method)
    row = frozen(logbook, view["id"])
    inputs = inputs_from_data(json.loads(row.inputs))
    assert inputs.method == method
    assert json.loads(row.result) == assessment_to_data(assess(inputs)) == view["assessment"]
    signed = {
        "sheet": view["id"],
        "entry": str(entry),
        "rule": view["rule"]["id"],
        "present": {"series": "Ines Tarn", "competitor": "Cleo Fenn"},
        "observations": view["observation"]["id"],
        "inputs": json.loads(row.inputs),
        "result": json.loads(row.result),
        "decided_by": str(an_id("inspector")),
        "decided_at": "2026-05-02T09:00:00+00:00",
    }
    assert view["verdict"]["digest"] == hashlib.sha256(rfc8785.dumps(signed)).hexdigest()


@pytest.mark.parametrize(
    ("method", "label", "value", "expanded"),
    [
        ("liquid_volume", "Cylinder 3", 10.438, 0.023),
        ("teardown", "Cylinder 1", 10.153, 0.087),
        ("dimensional", "The engine", 2866.70, 0.86),
    ],
)
def test_each_method_gives_its_figure(
    logbook: Logbook, entry: UUID, method: str, label: str, value: float, expanded: float
) -> None:
    found = benches.a_signed_sheet(logbook, entry, method)["assessment"]
    assert found["deciding"] == label
    assert float(found["decided"]["value"]) == pytest.approx(value, abs=0.01 if value > 100 else 0.001)
    assert float(found["decided"]["expanded_uncertainty"]) == pytest.approx(expanded, abs=0.01)


def test_everything_on_a_sheet_stands_in_the_log_as_it_was_typed(logbook: Logbook, entry: UUID) -> None:
    view = benches.a_signed_sheet(logbook, entry)
    with logbook.database.read() as session:
        rows = session.scalars(select(LogEntry).where(LogEntry.subject == UUID(view["id"])).order_by(LogEntry.seq))
        told = [(row.action, json.loads(row.entry)["body"]) for row in rows]
    assert [action for action, _ in told] == ["bench sheet opened", "bench sheet filled", "bench verdict signed"]
    assert json.loads(told[1][1]["typed"]) == benches.poured()
    assert told[1][1]["taken as"]["pouring"]["burette"]["nominal_cm3"] == "100.0"
    assert told[2][1]["digest"] == view["verdict"]["digest"]


def test_sent_twice_is_kept_once_and_another_body_under_the_same_id_is_a_conflict(
    logbook: Logbook, entry: UUID
) -> None:
    inspector = logbook.client("inspector")
    sheet, observation, verdict = (f"/api/bench-sheets/{an_id('s')}", an_id("o"), an_id("v"))
    seen = {"observations": benches.poured()}
    other = {"observations": {**benches.poured(), "plug_hole": "0.9"}}
    for address, body, another in (
        (sheet, benches.opened(entry), benches.opened(entry, reason="A draw.")),
        (f"{sheet}/observations/{observation}", seen, other),
        (
            f"{sheet}/sign-off/{verdict}",
            {"observation_id": str(observation), "pin": PIN},
            {"observation_id": str(an_id("else")), "pin": PIN},
        ),
    ):
        first, again = inspector.put(address, json=body), inspector.put(address, json=body)
        assert first.status_code == 200, first.text
        assert first.json() == again.json()
        assert inspector.put(address, json=another).status_code == 409
    assert inspector.get(sheet).json()["observation"]["typed"]["plug_hole"] == "0.8"


def test_observations_kept_on_one_sheet_are_none_of_another(logbook: Logbook, entry: UUID, sheet: UUID) -> None:
    first = benches.filled(logbook, sheet, benches.poured())
    second = benches.a_bench_sheet(logbook, entry, name="second")
    address = f"/api/bench-sheets/{second}/observations/{first['observation']['id']}"
    body = {"observations": benches.poured()}
    assert logbook.client("inspector").put(address, json=body).status_code == 409


def test_a_correction_names_what_it_replaces_and_why_and_both_stay(logbook: Logbook, sheet: UUID) -> None:
    first = benches.filled(logbook, sheet, benches.poured())["observation"]
    inspector = logbook.client("inspector")
    address = f"/api/bench-sheets/{sheet}/observations/{an_id('again')}"
    body: dict[str, Any] = {"observations": {**benches.poured(), "plug_hole": "1.8"}}
    assert inspector.put(address, json=body).status_code == 409
    body["replaces_id"] = first["id"]
    unreasoned = inspector.put(address, json=body)
    assert unreasoned.status_code == 422
    assert "Say why this replaces" in unreasoned.json()["errors"]["reason"]
    view = inspector.put(address, json={**body, "reason": "Plug hole measured again"}).json()
    assert view["observation"]["typed"]["plug_hole"] == "1.8"
    assert view["observation"]["reason"] == "Plug hole measured again"
    assert [row["typed"]["plug_hole"] for row in view["earlier"]] == ["0.8"]
    late = {**body, "reason": "Once more", "replaces_id": first["id"]}
    assert inspector.put(f"{address[:-36]}{an_id('late')}", json=late).status_code == 409


def test_a_signed_sheet_takes_no_more(logbook: Logbook, entry: UUID) -> None:
    view = benches.a_signed_sheet(logbook, entry)
    inspector = logbook.client("inspector")
    body = {"observations": benches.poured(), "replaces_id": view["observation"]["id"], "reason": "Afterthought"}
    answer = inspector.put(f"/api/bench-sheets/{view['id']}/observations/{an_id('after')}", json=body)
    assert answer.status_code == 409
    assert "This sheet is signed" in answer.json()["detail"]
    again = {"observation_id": view["observation"]["id"], "pin": PIN}
    answer = inspector.put(f"/api/bench-sheets/{view['id']}/sign-off/{an_id('second verdict')}", json=again)
    assert answer.status_code == 409
    assert "already signed" in answer.json()["detail"]


def test_what_is_signed_is_what_stood_on_the_page(logbook: Logbook, sheet: UUID) -> None:
    inspector = logbook.client("inspector")
    address = f"/api/bench-sheets/{sheet}/sign-off/{an_id('v')}"
    nothing = inspector.put(address, json={"observation_id": str(an_id("none")), "pin": PIN})
    assert nothing.status_code == 403
    assert "Nothing was measured" in nothing.json()["detail"]
    seen = benches.filled(logbook, sheet, benches.poured())["observation"]["id"]
    benches.filled(logbook, sheet, benches.poured(), replaces_id=seen, reason="Looked at again")
    stale = inspector.put(address, json={"observation_id": seen, "pin": PIN})
    assert stale.status_code == 409
    assert "corrected since" in stale.json()["detail"]


def test_a_pin_that_does_not_fit_signs_nothing_and_is_soon_asked_to_wait(logbook: Logbook, sheet: UUID) -> None:
    seen = benches.filled(logbook, sheet, benches.poured())["observation"]["id"]
    inspector = logbook.client("inspector")
    address = f"/api/bench-sheets/{sheet}/sign-off/{an_id('v')}"
    answers = [inspector.put(address, json={"observation_id": seen, "pin": "999999"}) for _ in range(8)]
    assert answers[0].status_code == 422
    assert "does not fit" in answers[0].json()["errors"]["pin"]
    assert answers[-1].status_code == 429
    assert inspector.put(address, json={"observation_id": seen, "pin": PIN}).status_code == 429
    assert inspector.get(f"/api/bench-sheets/{sheet}").json()["verdict"] is None


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"cautions_confirmed": False}, "cautions_confirmed", "Go through the cautions"),
        ({"method": "by_ear"}, "method", "Known are liquid_volume, teardown, dimensional"),
        ({"method": "acoustic_resonance"}, "method", "This method is not known here"),
        ({"reason": ""}, "reason", "is needed"),
        ({"present_for_series": " "}, "present_for_series", "is needed"),
        ({"present_for_competitor": ""}, "present_for_competitor", "is needed"),
    ],
)
def test_a_sheet_that_cannot_be_opened_says_why(
    logbook: Logbook, entry: UUID, changed: dict[str, Any], field: str, words: str
) -> None:
    answer = logbook.client("inspector").put(
        f"/api/bench-sheets/{an_id('refused')}", json=benches.opened(entry, **changed)
    )
    assert answer.status_code == 422
    assert words in answer.json()["errors"][field]


def test_without_a_limit_on_what_it_measures_a_method_is_refused_in_words(logbook: Logbook) -> None:
    builders.a_class(logbook)
    entry = builders.an_entry(logbook, "41", 4)
    inspector = logbook.client("inspector")
    answer = inspector.put(f"/api/bench-sheets/{an_id('s')}", json=benches.opened(entry, "dimensional"))
    assert answer.status_code == 403
    assert "sets no limit for the displacement" in answer.json()["detail"]
    offered = inspector.get(f"/api/entries/{entry}/bench-sheets/start").json()["methods"]
    assert {one["key"]: bool(one["rule"]) for one in offered} == {
        "liquid_volume": True,
        "teardown": True,
        "dimensional": False,
    }
    assert all(bool(one["refusal"]) != bool(one["rule"]) for one in offered)


def test_a_sheet_is_held_against_the_rule_in_force_when_it_was_opened(logbook: Logbook, sheet: UUID) -> None:
    stricter = {**builders.RULE, "limit": "9.00"}
    edition = {"in_force_from": "2026-05-02", "protest_minutes": 30, "rule": stricter}
    put(logbook.client("official"), f"/classes/{builders.CLASS}/editions/{an_id('stricter')}", edition)
    view = benches.filled(logbook, sheet, benches.poured())
    assert view["rule"]["limit"] == "10.50"
    assert view["assessment"]["verdict"] == "conforming"


def changed(method: str, place: str, value: Any) -> dict[str, Any]:
    """What is usually typed with one thing otherwise."""
    observed = OBSERVED[method]()
    *above, last = place.split(".")
    branch: Any = observed
    for part in above:
        branch = branch[int(part)] if part.isdigit() else branch[part]
    if last.isdigit():
        branch[int(last)] = value
    else:
        branch[last] = value
    return observed


REFUSED = [
    # the In type
    ("liquid_volume", "pouring.burette.nominal", "1 ft", "not a unit of volume"),
    ("liquid_volume", "pouring.liquid", "petrol", "must be one of"),
    ("liquid_volume", "pouring.metal_temperature", "warm", "“warm” is not a number"),
    ("liquid_volume", "rod_length", "nan", "is not a number"),
    ("liquid_volume", "crank_within", "9" * 40, "far too many digits"),
    ("liquid_volume", "cylinders.1.cylinder", 25, "at most 24"),
    ("liquid_volume", "cylinders.1.fills.0.end", "7" * 21, "at most 20 characters"),
    # the core
    ("liquid_volume", "pouring.burette.nominal", "60", "none of 60"),
    ("liquid_volume", "pouring.liquid_temperature", "294", "typed in kelvin"),
    ("liquid_volume", "crank_within", "45", "degrees either way"),
    ("liquid_volume", "plug_hole", "-40", "plug hole"),
    ("liquid_volume", "cylinders.2.fills.1.end", "7o.8", "cannot be read"),
    ("liquid_volume", "cylinders.2.fills.1.start", "80.00", "nothing was delivered"),
    ("liquid_volume", "cylinders.3.cylinder", 5, "no cylinder 5"),
    ("liquid_volume", "cylinders.3.fills", [{"start": "0", "end": "70"}, {"start": "0", "end": "90"}], "differ so"),
    ("liquid_volume", "cylinders", [], "No cylinder was filled"),
    ("teardown", "gasket.bore", "20", "does not go with a bore"),
    ("teardown", "crevice.height", "-1", "height from crown to top ring"),
    ("teardown", "cylinders.1.deck_clearance", "50", "deck clearance"),
    ("teardown", "cylinders.1.head_fills", [], "was not filled"),
    ("teardown", "cylinders.1.crown_depth", "0", "Enter how far down"),
    ("teardown", "cylinders.0.reliefs", "-2", "valve reliefs"),
    ("dimensional", "bore_instrument.error_limit", "0", "No instrument is exact"),
    ("dimensional", "cylinders.1.diameters.2", "10x1.6", "cannot be read"),
    ("dimensional", "cylinders.1.diameters.2", "4 ft", "not a unit of length"),
    ("dimensional", "cylinders.1.diameters", ["101.61"], "at least 2"),
    ("dimensional", "cylinders.0.strokes.0", "60.00", "more than a tenth off"),
    ("dimensional", "crank_metal", "aluminium_on_iron", "must be one of"),
    ("dimensional", "cylinders", [], "Not measured"),
]


@pytest.mark.parametrize(("method", "place", "value", "words"), REFUSED)
def test_what_cannot_be_is_refused_at_its_place_and_nothing_is_kept(
    logbook: Logbook, entry: UUID, method: str, place: str, value: Any, words: str
) -> None:
    sheet = benches.a_bench_sheet(logbook, entry, method)
    inspector = logbook.client("inspector")
    body = {"observations": changed(method, place, value)}
    answer = inspector.put(f"/api/bench-sheets/{sheet}/observations/{an_id('o')}", json=body)
    assert answer.status_code == 422, answer.text
    (found,) = answer.json()["errors"].items()
    expected = {"cylinders.3.cylinder": "cylinders.3", "cylinders.2.fills.1.start": "cylinders.2.fills.1.end"}
    assert found[0] == f"observations.{expected.get(place, place)}"
    assert words in found[1]
    assert inspector.get(f"/api/bench-sheets/{sheet}").json()["observation"] is None


def test_typed_in_inches_and_fahrenheit_it_is_the_same_engine(logbook: Logbook, entry: UUID) -> None:
    metric = benches.filled(logbook, benches.a_bench_sheet(logbook, entry, "teardown"), benches.taken_down())
    typed = benches.taken_down()
    typed["pouring"] |= {"liquid_temperature": "70.7", "metal_temperature": "71.6 °F"}
    typed["gasket"] |= {"bore": "4.062992126", "bore_standard_uncertainty": "0.1 mm"}
    typed["gasket"] |= {"thickness": "0.040157480", "thickness_standard_uncertainty": "0.00078740157"}
    typed["crevice"] = {name: f"{text} mm" for name, text in typed["crevice"].items()}
    for name in ("plate_flatness", "deck_clearance_standard_uncertainty", "crown_depth_standard_uncertainty"):
        typed[name] += " mm"
    for one in typed["cylinders"]:
        one |= {"deck_clearance": "0.0098425197", "crown_depth": "10.00 mm"}
    inches = benches.filled(logbook, benches.a_bench_sheet(logbook, entry, "teardown", "inches"), typed, units="inch")
    for one, other in zip(metric["assessment"]["results"], inches["assessment"]["results"], strict=True):
        assert float(one["value"]) == pytest.approx(float(other["value"]), rel=1e-8)
    assert inches["observation"]["units"] == "inch"
    assert inches["observation"]["typed"]["gasket"]["thickness"] == "0.040157480"
    assert inches["observation"]["observations"]["pouring"]["burette"]["nominal_cm3"] == "100.0"


@pytest.mark.parametrize(
    ("typed", "taken"),
    [
        ("101.612", "101.612"),
        ("101,61 mm", "101.61"),
        ("102", "102"),
        ("4.0005 in", "101.61"),
        ("4.001 in", "101.6"),
        ('4.0" ', "102"),
        ("4 in", "102"),
    ],
)
def test_a_length_read_in_inches_is_never_taken_as_finer_than_it_was_read(
    logbook: Logbook, entry: UUID, typed: str, taken: str
) -> None:
    sheet = benches.a_bench_sheet(logbook, entry, "dimensional")
    view = benches.filled(logbook, sheet, changed("dimensional", "cylinders.0.diameters.1", typed))
    assert view["observation"]["typed"]["cylinders"][0]["diameters"][1] == typed
    assert view["observation"]["observations"]["cylinders"][0]["diameters"][1] == taken


def test_a_cylinder_left_out_keeps_the_verdict_open(logbook: Logbook, sheet: UUID) -> None:
    observed = benches.poured()
    observed["cylinders"][2] = {"cylinder": 3, "not_measured_reason": "Plug seized"}
    assessment = benches.filled(logbook, sheet, observed)["assessment"]
    assert assessment["verdict"] == "inconclusive"
    assert assessment["not_measured"] == ["3"]


def test_the_list_of_an_entry_has_every_sheet_the_newest_first(logbook: Logbook, entry: UUID) -> None:
    benches.a_signed_sheet(logbook, entry)
    logbook.clock.advance(minutes=5)
    benches.a_bench_sheet(logbook, entry, "teardown")
    rows = logbook.client("official").get(f"/api/entries/{entry}/bench-sheets").json()["sheets"]
    assert [(row["method_label"], row["verdict"]) for row in rows] == [
        ("teardown worksheet", ""),
        ("liquid volume, whole chamber", "conforming"),
    ]
    assert (rows[1]["value_text"], rows[1]["uncertainty_text"]) == ("10.438", "0.023")
