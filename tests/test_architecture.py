"""What the import contracts cannot see: names in strings, templates, routes without a rule."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute

from app.config import SHARED_ROOT, Settings
from app.database import Base
from app.main import create_app
from app.officials.access import maybe_current
from tests.conftest import Logbook

FEATURES = [
    "officials",
    "regulations",
    "entries",
    "instruments",
    "studies",
    "inspections",
    "bench_sheets",
    "doubts",
    "planning",
    "protests",
    "slips",
    "history",
]
ROOT = Path(__file__).resolve().parent.parent


def all_routes(app: Any) -> Iterator[APIRoute]:
    for route in app.routes:
        if isinstance(route, APIRoute):
            yield route
        inner = getattr(route, "original_router", None)
        if inner is not None:
            yield from all_routes(inner)


def calls(dependant: Dependant) -> Iterator[Any]:
    yield dependant.call
    for below in dependant.dependencies:
        yield from calls(below)


@pytest.fixture(scope="module")
def routes(tmp_path_factory: pytest.TempPathFactory) -> list[APIRoute]:
    app = create_app(Settings(data_folder=tmp_path_factory.mktemp("routes")))
    return list(all_routes(app))


def test_every_route_declares_who_may_use_it(routes: list[APIRoute]) -> None:
    assert len(routes) > 60
    undeclared = [route.path for route in routes if maybe_current not in calls(route.dependant)]
    assert undeclared == ["/health"]


def test_every_page_has_a_template_of_its_own_feature() -> None:
    for feature in FEATURES:
        tree = ast.parse((ROOT / "app" / feature / "pages.py").read_text())
        names = [
            node.args[1].value
            for node in ast.walk(tree)
            if isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id == "page"
            and len(node.args) > 1
            and isinstance(node.args[1], ast.Constant)
        ]
        assert names
        for name in names:
            assert str(name).startswith(f"{feature}/")
            assert (SHARED_ROOT / "templates" / str(name)).is_file()


def test_template_and_test_folders_mirror_the_features() -> None:
    templates = {path.name for path in (SHARED_ROOT / "templates").iterdir() if path.is_dir()}
    assert templates == {*FEATURES, "errors"}
    tests = {path.name for path in (ROOT / "tests" / "web").iterdir() if path.is_dir() and path.name != "__pycache__"}
    assert set(FEATURES) <= tests


def test_foreign_keys_point_down_the_ladder() -> None:
    """Names in strings escape the import contracts, so the tables are walked."""
    level = {feature: number for number, feature in enumerate(FEATURES)}
    level["instruments"] = level["entries"]
    feature_of = {mapper.local_table.name: mapper.class_.__module__.split(".")[1] for mapper in Base.registry.mappers}
    for table in Base.metadata.tables.values():
        for key in table.foreign_keys:
            here, there = feature_of[table.name], feature_of[key.column.table.name]
            assert here == there or level[there] < level[here], f"{table.name} points up to {key.column.table.name}"


def test_import_contracts_hold() -> None:
    command = [Path(sys.executable).parent / "lint-imports", "--no-cache"]
    found = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert found.returncode == 0, found.stdout


def test_the_web_process_never_loads_the_layout_or_signing_machinery() -> None:
    code = "import sys, app.main; print([m for m in ('weasyprint', 'pyhanko', 'scipy.stats') if m in sys.modules])"
    found = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_every_error_under_api_has_one_shape(logbook: Logbook) -> None:
    stranger, official = logbook.client(), logbook.client("official")
    answers = [
        stranger.get("/api/people"),
        official.get("/api/nowhere"),
        official.get("/api/inspections/not-an-id"),
        official.put("/api/series/not-an-id", json={}),
        official.put("/api/series/5a1c7f0e-51f6-4d3c-9d57-7a4a5a0f0001", json={"nonsense": 1}),
        official.request("PATCH", "/api/people"),
    ]
    assert [answer.status_code for answer in answers] == [401, 404, 404, 404, 422, 405]
    for answer in answers:
        assert answer.headers["content-type"] == "application/problem+json"
        assert answer.json()["status"] == answer.status_code
        assert answer.json()["detail"].endswith(".")


def test_an_unforeseen_error_shows_a_number_and_no_trace(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_given: object) -> None:
        raise RuntimeError("secret inner words")

    monkeypatch.setattr("app.officials.service.people", broken)
    for address in ("/people", "/api/people"):
        answer = logbook.client("administrator").get(address)
        assert answer.status_code == 500
        assert "secret inner words" not in answer.text
        assert "Traceback" not in answer.text
        assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_an_upload_past_the_limit_is_refused_whether_or_not_it_says_its_length(logbook: Logbook) -> None:
    body = b"x" * (17 * 1024 * 1024)
    assert logbook.client().post("/verify", content=body).status_code == 413

    def in_parts() -> Iterator[bytes]:
        for start in range(0, len(body), 1 << 20):
            yield body[start : start + (1 << 20)]

    unsaid = logbook.client().post(
        "/verify", content=in_parts(), headers={"content-type": "multipart/form-data; boundary=b"}
    )
    assert unsaid.status_code == 413
