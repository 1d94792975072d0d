"""The whole job over JSON: from the rule to the verified file. Page and API show the same figures."""

import json
import subprocess
from pathlib import Path

from tests import builders
from tests.conftest import Logbook

CONFORMING = [["10.31", "10.32"], ["10.28"], ["10.30"], ["10.33"], ["10.29"], ["10.30"], ["10.32"], ["10.31"]]


def test_the_whole_job_over_json(logbook: Logbook, tmp_path: Path) -> None:
    sheet = builders.a_whole_season(logbook)
    view = builders.readings(logbook, sheet, CONFORMING)
    assert view["assessment"]["verdict"] == "conforming"
    assert view["missing"] == []
    slip = builders.signed(logbook, sheet)
    assert slip["signed"]
    assert slip["number"] == "SL-000001"

    competitor = logbook.client("competitor")
    pdf = competitor.get(f"/slips/{slip['id']}.pdf").content
    (tmp_path / "slip.pdf").write_bytes(pdf)
    said = subprocess.run(["pdfsig", tmp_path / "slip.pdf"], capture_output=True, text=True, check=False).stdout
    assert "Signature is Valid" in said
    assert "Total document signed" in said

    found = logbook.client().post("/api/verify", content=pdf).json()
    assert found["genuine"], found
    assert found["number"] == "SL-000001"
    altered = bytearray(pdf)
    altered[len(pdf) // 2] ^= 1
    assert not logbook.client().post("/api/verify", content=bytes(altered)).json()["genuine"]

    record = json.loads(competitor.get(f"/api/slips/{slip['id']}/record").content)
    frozen = logbook.client("official").get(f"/api/inspections/{sheet}").json()["assessment"]
    assert record["result"] == frozen
    shown = logbook.client("inspector").get(f"/inspections/{sheet}/verdict").text
    assert f"{float(frozen['decided']['value']):.2f}" in shown
