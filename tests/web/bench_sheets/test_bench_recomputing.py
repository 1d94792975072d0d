"""`shedbook recompute` looks at bench sheets too."""

from pathlib import Path
from uuid import UUID

import pytest
from sqlalchemy import update
from typer.testing import CliRunner

from app.__main__ import app
from app.bench_sheets.models import BenchVerdict
from app.bench_sheets.recomputing import recompute_bench_sheets
from tests.conftest import Logbook
from tests.web.bench_sheets import benches


def test_every_signed_bench_sheet_is_worked_out_again_and_a_difference_is_listed(
    logbook: Logbook, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("SHEDBOOK_DATA_FOLDER", str(tmp_path))
    monkeypatch.setenv("SHEDBOOK_DATABASE_URL", logbook.settings.resolved_database_url)
    entry = benches.an_engine(logbook)
    signed = [benches.a_signed_sheet(logbook, entry, method) for method in benches.OBSERVED]
    same = CliRunner().invoke(app, ["recompute"])
    assert same.exit_code == 0, same.output
    assert "no verdict comes out otherwise (3 verdicts looked at)" in same.output
    blocks = list(recompute_bench_sheets(logbook.database, block=2))
    assert [len(block) for block in blocks] == [2, 1]
    assert {one.inspection_id for block in blocks for one in block} == {UUID(view["id"]) for view in signed}
    with logbook.database.write() as session:
        of_first = update(BenchVerdict).where(BenchVerdict.sheet_id == UUID(signed[0]["id"]))
        session.execute(of_first.values(verdict="nonconforming"))
    other = CliRunner().invoke(app, ["recompute"])
    assert other.exit_code == 1
    assert "verdict: nonconforming → conforming" in other.output
    assert signed[0]["id"] in other.output
