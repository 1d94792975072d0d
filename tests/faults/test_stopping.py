"""Ctrl-C at any moment: the server and its slip workers go quietly, and say nothing that a person cannot read."""

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
START_SECONDS = 60


@pytest.mark.parametrize("seconds_after_opening", [0.0, 0.7, 2.0])
def test_ctrl_c_stops_the_logbook_without_a_trace(tmp_path: Path, seconds_after_opening: float) -> None:
    said = tmp_path / "said.txt"
    environment = {**os.environ, "SHEDBOOK_DATA_FOLDER": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    command = [sys.executable, "-m", "app", "serve", "--port", "0"]
    with (
        said.open("wb") as output,
        subprocess.Popen(
            command, cwd=ROOT, env=environment, stdout=output, stderr=output, start_new_session=True
        ) as server,
    ):
        deadline = time.monotonic() + START_SECONDS
        while not re.search(r"Shedbook serves on", said.read_text()):
            assert server.poll() is None, said.read_text()
            assert time.monotonic() < deadline, said.read_text()
            time.sleep(0.02)
        time.sleep(seconds_after_opening)
        os.killpg(server.pid, signal.SIGINT)  # as a terminal does: to the server and all its workers
        server.wait(timeout=START_SECONDS)
    assert "Traceback" not in said.read_text()
    assert "Error" not in said.read_text()
