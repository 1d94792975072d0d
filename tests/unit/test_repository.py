"""What the checkout itself promises: a small top level, short files, pinned packages, a quick command."""

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "pyproject.toml", "app", "migrations", "templates", "static", "tests",
    "docker-compose.yml", "Makefile", "requirements.txt",
}  # fmt: skip
MADE_HERE = {"data", "dist"}  # .gitignore names them; running and building make them
SECOND_PART = "# ---- only tests and lint need what follows ----\n"
HEAVY = (
    "fastapi",
    "starlette",
    "sqlalchemy",
    "alembic",
    "numpy",
    "scipy",
    "weasyprint",
    "pyhanko",
    "jinja2",
    "uvicorn",
)


def written_files() -> list[Path]:
    """Every file of ours that has lines to count."""
    folders = [ROOT / name for name in ("app", "migrations", "templates", "static", "tests")]
    kinds = {".py", ".js", ".css", ".html", ".svg", ".mako"}
    return sorted(path for folder in folders for path in folder.rglob("*") if path.suffix in kinds)


def pinned_blocks(text: str) -> list[str]:
    """One piece of text for each pinned package, its hashes included."""
    without_comments = re.sub(r"(?m)^#.*\n", "", text)
    return re.split(r"(?m)^(?=\S)", without_comments)[1:]


def package_names(text: str) -> set[str]:
    return {re.split(r"[=<>\[; ]", block)[0].lower() for block in pinned_blocks(text)}


def test_the_top_level_holds_only_what_a_newcomer_expects_there() -> None:
    present = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    unexpected = present - TOP_LEVEL - MADE_HERE - {"__pycache__"}
    assert {name for name in unexpected if not name.endswith(".egg-info")} == set()
    assert present >= TOP_LEVEL


def test_no_file_has_more_than_400_lines() -> None:
    files = written_files()
    assert len(files) > 50
    lengths = {str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines()) for path in files}
    assert {name: length for name, length in lengths.items() if length > 400} == {}


def test_every_pinned_package_has_one_version_for_each_python_and_its_hashes() -> None:
    blocks = pinned_blocks((ROOT / "requirements.txt").read_text())
    assert len(blocks) > 50
    for block in blocks:
        first, *others = block.splitlines()
        assert re.match(r"[A-Za-z0-9._-]+(\[[a-z,]+\])?==[^ ]+ (; .+ )?\\$", first), first
        assert others, first
        assert all(re.fullmatch(r"    --hash=sha256:[0-9a-f]{64}( \\)?", line) for line in others), first


def test_the_pins_name_no_place_to_fetch_from() -> None:
    text = (ROOT / "requirements.txt").read_text()
    assert re.findall(r"https?:|file:|--(?:extra-)?index|--find-links|--trusted-host| @ ", text) == []


def test_each_package_that_the_project_asks_for_is_pinned_in_its_part() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    application, tests = (ROOT / "requirements.txt").read_text().split(SECOND_PART)
    asked = {re.split(r"[\[<>=; ]", name)[0].lower() for name in project["project"]["dependencies"]}
    asked_by_tests = {re.split(r"[\[<>=; ]", name)[0].lower() for name in project["dependency-groups"]["test"]}
    assert asked - package_names(application) == set()
    assert asked_by_tests - package_names(tests) - package_names(application) == set()
    assert package_names(application) & package_names(tests) == set()


@pytest.mark.parametrize("word", ["demo", "serve", "test", "lint", "bench", "soak", "help"])
def test_make_explains_each_of_its_words(word: str) -> None:
    make = subprocess.run(["make", "-s", "help"], cwd=ROOT, check=True, capture_output=True, text=True)
    assert re.search(rf"(?m)^make {word} - .{{10,}}$", make.stdout)
    assert make.stderr == ""


def test_help_answers_without_loading_anything_heavy() -> None:
    code = (
        "import sys; from app.__main__ import main; sys.argv = ['shedbook', '--help']\n"
        "try: main()\n"
        "except SystemExit as end: assert not end.code\n"
        f"print('loaded:', sorted(set({HEAVY!r}) & set(sys.modules)))"
    )
    environment = {**os.environ, "COLUMNS": "100"}
    said = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=environment, check=True, capture_output=True, text=True
    ).stdout
    assert "demo" in said
    assert "add-person" in said
    assert said.splitlines()[-1] == "loaded: []"
