"""The steps of a verification: each confirmed, the gas set to ambient, the mean told against the mark both ways."""

from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import select

from app.audit import LogEntry
from app.database import now
from app.instruments.models import Verification
from tests.builders import EVENT, INSTRUMENT, PROCEDURE, VOLUME, a_class, an_instrument, put, verify
from tests.conftest import Logbook, an_id

CHECK = an_id("check")
TYPED = {
    "instrument_id": str(INSTRUMENT),
    "reference_volume_id": str(VOLUME),
    "step_room_temperature": "yes",
    "step_settings_dialled": "yes",
    "ambient_temperature": "21.0",
    "gas_temperature_set": "21.5",
    "step_hose_straight": "yes",
    "airflow": "4.72",
    "step_airflow_left_alone": "yes",
    **{f"indication_{number}": "11.25" for number in range(1, 4)},
}
STEPS = {
    "step_room_temperature": "Warmth from a hand skews the reading.",
    "step_settings_dialled": "The mark holds for its own settings only.",
    "step_hose_straight": "Lay the hose without kink or bend",
    "step_airflow_left_alone": "It may never be trimmed to make the check read right.",
}


@pytest.fixture(autouse=True)
def bench(logbook: Logbook) -> None:
    a_class(logbook)
    an_instrument(logbook)


def post(logbook: Logbook, *without: str, **typed: str) -> Any:
    sent = {name: value for name, value in {**TYPED, **typed}.items() if name not in without}
    return logbook.client("inspector").post(f"/events/{EVENT}/verification/opening/{CHECK}", data=sent)


def beside(answer: Any, field: str) -> str:
    """The sentence at the field."""
    found: str = answer.text.split(f'id="f-{field}-error"')[1].split("</p>")[0]
    return found


def kept(answer: Any, *without: str) -> bool:
    """Everything typed and confirmed is still on the page."""
    fields = answer.text.split("<input")[1:]
    return all(
        any(
            f'name="{name}"' in field and f'value="{value}"' in field and (value != "yes" or " checked" in field)
            for field in fields
        )
        for name, value in TYPED.items()
        if name not in without
    )


# ---- the steps ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("left_out", STEPS)
def test_a_step_not_confirmed_has_its_sentence_beside_it_and_everything_else_is_kept(
    logbook: Logbook, left_out: str
) -> None:
    answer = post(logbook, left_out)
    assert answer.status_code == 422
    assert STEPS[left_out] in beside(answer, left_out)
    assert [field for field in STEPS if "Problem" in beside(answer, field)] == [left_out]
    assert f'href="#f-{left_out}"' in answer.text
    assert kept(answer, left_out)
    assert logbook.client("inspector").get(f"/api/events/{EVENT}/verifications/{CHECK}").status_code == 404


def test_everything_that_is_amiss_is_said_at_once_and_in_the_order_of_the_form(logbook: Logbook) -> None:
    answer = post(logbook, *STEPS, indication_2="11.2S", airflow="", gas_temperature_set="25")
    listed = answer.text.split('class="problem-list"')[1].split("</ul>")[0]
    fields = [part.split('"')[0] for part in listed.split('href="#f-')[1:]]
    assert fields == [
        "step_room_temperature",
        "step_settings_dialled",
        "gas_temperature_set",
        "step_hose_straight",
        "airflow",
        "step_airflow_left_alone",
        "indication_2",
    ]


def test_what_was_confirmed_is_kept_and_shown(logbook: Logbook) -> None:
    answer = post(logbook)
    page = logbook.client("inspector").get(answer.headers["location"]).text
    found = logbook.client("inspector").get(f"/api/events/{EVENT}/verifications/{CHECK}").json()
    assert found["set_gas_temperature_c"] == "21.5"
    assert len(found["steps"]) == 4
    assert all(step in page for step in found["steps"])
    assert "an interval: anywhere in it is on the mark" in page
    with logbook.database.read() as session:
        row = session.get(Verification, CHECK)
        assert row is not None
        assert row.steps_confirmed == PROCEDURE["steps_confirmed"]


def test_the_operation_asks_for_the_steps_too(logbook: Logbook) -> None:
    body = {
        "instrument_id": str(INSTRUMENT),
        "reference_volume_id": str(VOLUME),
        "stage": "opening",
        "indications": ["11.25"] * 3,
        "airflow": "4.72",
        "ambient_temperature": "21",
        "gas_temperature_set": "21",
    }
    inspector, address = logbook.client("inspector"), f"/api/events/{EVENT}/verifications/{CHECK}"
    for steps in ([], ["hose_straight"], PROCEDURE["steps_confirmed"][1:]):
        answer = inspector.put(address, json={**body, "steps_confirmed": steps})
        assert answer.status_code == 422
        assert "Warmth from a hand skews the reading." in answer.text
    assert inspector.put(address, json={**body, "steps_confirmed": ["sung_to"]}).status_code == 422
    assert inspector.put(address, json=body).status_code == 422
    # in whatever order and however often they are named, it is the same procedure and the same record
    for steps in (PROCEDURE["steps_confirmed"][::-1], PROCEDURE["steps_confirmed"] * 2):
        assert inspector.put(address, json={**body, "steps_confirmed": steps}).status_code == 200


# ---- the gas -----------------------------------------------------------------------------------------------------

EDGES = [("20.5", True), ("21.5", True), ("20.4", False), ("21.6", False), ("69,8 °F", True), ("71 °F", False)]


@pytest.mark.parametrize(("gas", "taken"), EDGES)
def test_the_gas_temperature_lies_within_half_a_kelvin_of_ambient(logbook: Logbook, gas: str, taken: bool) -> None:
    answer = post(logbook, gas_temperature_set=gas)
    assert answer.status_code == (303 if taken else 422)
    if not taken:
        assert "but the air is 21 °C. Set it to ambient, within 0.5 °C, and read again." in beside(
            answer, "gas_temperature_set"
        )
        assert kept(answer, "gas_temperature_set")
        assert f'value="{gas}"' in answer.text


def test_somebody_who_reads_fahrenheit_is_told_in_fahrenheit(logbook: Logbook) -> None:
    logbook.client("inspector").post("/me/preferences", data={"units": "inch", "pad_side": "right"})
    assert post(logbook, ambient_temperature="70", gas_temperature_set="70.9").status_code == 303
    answer = post(logbook, ambient_temperature="70", gas_temperature_set="71")
    said = (
        "The gas temperature is set to 71 °F, but the air is 70 °F. Set it to ambient, within 0.9 °F, and read again."
    )
    assert said in beside(answer, "gas_temperature_set")


# ---- repeats, and E_n --------------------------------------------------------------------------------------------


def test_three_to_twelve_repeats_are_taken(logbook: Logbook) -> None:
    twelve = {f"indication_{number}": "11.25" for number in range(1, 13)}
    answer = post(logbook, **twelve)
    assert answer.status_code == 303
    found = logbook.client("inspector").get(f"/api/events/{EVENT}/verifications/{CHECK}").json()
    assert found["indications"] == ["11.25"] * 12
    address = f"/api/events/{EVENT}/verifications/{an_id('thirteen')}"
    body = {**found_body(), "indications": ["11.25"] * 13}
    answer = logbook.client("inspector").put(address, json=body)
    assert answer.status_code == 422
    assert "At most 12 indications are taken." in answer.text


def found_body() -> dict[str, Any]:
    asked = {"instrument_id": str(INSTRUMENT), "reference_volume_id": str(VOLUME), "stage": "opening"}
    return {**asked, "airflow": "4.72", "ambient_temperature": "21.0", **PROCEDURE}


def test_a_wrong_one_among_the_further_indications_opens_their_fold(logbook: Logbook) -> None:
    assert '<details class="fold">' in post(logbook, indication_1="?").text
    answer = post(logbook, indication_9="11.2S")
    assert '<details class="fold" open>' in answer.text
    assert "“11.2S” cannot be read as an indication." in beside(answer, "indication_9")


def test_mean_scatter_deviation_and_e_n_are_shown(logbook: Logbook) -> None:
    """x̄ = 11.33, s = 0.01, limits 0.10, step 0.01, mark 11.20 to 11.30, n = 3: 0.08/0.129743 = 0.6166, by hand."""
    found = verify(logbook, "opening", "11.32", "11.33", "11.34")
    assert (found["mean"], found["standard_deviation"], found["deviation"]) == (
        "11.330000000",
        "0.010000000",
        "0.030000000",
    )
    assert float(found["e_n"]) == pytest.approx(0.6166, abs=5e-5)
    page = logbook.client("inspector").get(f"/events/{EVENT}/verifications/{found['id']}").text
    assert "E_n = 0.62: mark and instrument agree within what both claim." in page
    for shown in ("11.330", "0.0100", "0.030", "0.62"):
        assert f"<dd>{shown}" in page


def test_where_e_n_and_the_permission_say_otherwise_the_page_says_what_that_means(logbook: Logbook) -> None:
    wide = {"serial": "RV-8", "mark_low": "11.25", "permitted_deviation": "0.40", "mark_expanded_uncertainty": "0.02"}
    held = {"mark_displacement": "5733", "mark_cylinders": 8}
    other = an_id("wide")
    put(logbook.client("official"), f"/instruments/{INSTRUMENT}/reference-volumes/{other}", {**wide, **held})
    found = verify(logbook, "opening", "11.45", "11.45", "11.45", reference_volume_id=str(other))
    assert found["accepted"]
    assert float(found["e_n"]) > 1
    page = logbook.client("inspector").get(f"/events/{EVENT}/verifications/{found['id']}").text
    assert "it allows more than mark and instrument claim of themselves" in page


def test_off_the_airflow_no_e_n_is_worked_out(logbook: Logbook) -> None:
    found = verify(logbook, airflow="4.83")
    assert (found["e_n"], found["e_n_sentence"]) == (None, "")
    page = logbook.client("inspector").get(f"/events/{EVENT}/verifications/{found['id']}").text
    assert "not judged: the airflow was off its set-point" in page
    assert "Verify again" in page


def test_the_airflow_is_held_against_its_set_point_in_the_unit_it_was_typed_in(logbook: Logbook) -> None:
    """The tolerance is what the flowmeter can be read to; 4.72 ± 0.10 L/min ends at 10.2130 SCFH."""
    assert verify(logbook, name="in", airflow="10.21 SCFH")["accepted"]
    refused = verify(logbook, name="out", airflow="10.22 SCFH")
    assert refused["off_airflow"]
    assert "This verification is refused." in refused["sentence"]
    with logbook.database.read() as session:
        about = LogEntry.subject == an_id("verification opening out")
        assert session.scalars(select(LogEntry.action).where(about)).all() == ["verification not accepted"]


# ---- from before -------------------------------------------------------------------------------------------------


def test_a_verification_from_before_the_steps_still_shows(logbook: Logbook) -> None:
    before = an_id("before")
    with logbook.database.write() as session:
        session.add(
            Verification(
                id=before, event_id=EVENT, instrument_id=INSTRUMENT, reference_volume_id=VOLUME, stage="opening",
                indications=["11.24", "11.25", "11.26"], airflow_l_min=Decimal("4.72"),
                ambient_temperature_c=Decimal("21"), set_gas_temperature_c=None, steps_confirmed=[],
                mean=Decimal("11.25"), standard_deviation=Decimal("0.01"), deviation=Decimal("0"), e_n=None,
                accepted=True, reason="The mean lies on the mark.",
                performed_by_id=an_id("inspector"), performed_at=now(session), digest="0" * 64,
            )
        )  # fmt: skip
    page = logbook.client("inspector").get(f"/events/{EVENT}/verifications/{before}").text
    assert "not worked out: from before this was done" in page
    assert page.count("not asked then") == 2
    assert "Instrument 2 is open" in page
    assert logbook.client("official").get(f"/instruments/{INSTRUMENT}").status_code == 200
