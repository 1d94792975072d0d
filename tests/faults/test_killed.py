"""The server is killed in mid-work, again and again: nothing that it had acknowledged is lost, and the log holds."""

import contextlib
import os
import random
import shutil
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from uuid import uuid4

import httpx
import pytest

from tests.conftest import PASSWORD

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 40 if "SHEDBOOK_SOAK" in os.environ else 2
WRITERS = 4
START_SECONDS = 60


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port: int = probe.getsockname()[1]
        return port


@contextlib.contextmanager
def serving(address: str, environment: dict[str, str]) -> Iterator[subprocess.Popen[bytes]]:
    command = [sys.executable, "-m", "app", "serve", "--port", address.rpartition(":")[2]]
    with subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL) as server:
        deadline = time.monotonic() + START_SECONDS
        while True:
            with contextlib.suppress(httpx.TransportError):
                if httpx.get(f"{address}/health").status_code == 200:
                    break
            assert server.poll() is None
            assert time.monotonic() < deadline
            time.sleep(0.05)
        try:
            yield server
        finally:
            server.kill()


def enter_until_killed(client: httpx.Client, acknowledged: dict[str, dict[str, str]]) -> None:
    """Enters one competitor after the other, and notes each that the server said it keeps."""
    with contextlib.suppress(httpx.TransportError):
        while True:
            competitor_id = str(uuid4())
            body = {"licence": f"L-{competitor_id[:13].upper()}", "name": f"Works team {competitor_id[:8]}"}
            answer = client.put(f"/api/competitors/{competitor_id}", json=body)
            if answer.status_code == 200:
                acknowledged[competitor_id] = body


@pytest.mark.soak
def test_what_was_acknowledged_outlives_every_kill(
    database_url: str, tmp_path: Path, prepared: tuple[Path, Callable[[str], None]]
) -> None:
    shutil.copytree(prepared[0] / "keys", tmp_path / "keys")
    environment = {**os.environ, "SHEDBOOK_DATA_FOLDER": str(tmp_path), "SHEDBOOK_DATABASE_URL": database_url}
    address = f"http://127.0.0.1:{free_port()}"
    moments = random.Random(20260502)
    acknowledged: dict[str, dict[str, str]] = {}
    with httpx.Client(base_url=address, headers={"sec-fetch-site": "same-origin"}, timeout=30) as client:
        for _ in range(ROUNDS):
            known = len(acknowledged)
            with serving(address, environment) as server:
                if not client.cookies:
                    client.post("/api/session", json={"sign_in_name": "official", "password": PASSWORD})
                writers = [
                    threading.Thread(target=enter_until_killed, args=(client, acknowledged)) for _ in range(WRITERS)
                ]
                for writer in writers:
                    writer.start()
                time.sleep(moments.uniform(0.5, 1.5))
                server.kill()
                for writer in writers:
                    writer.join()
            assert len(acknowledged) > known
        with serving(address, environment):
            present = {each["id"]: each for each in client.get("/api/competitors").json()}
            log = client.get("/api/log", params={"check": True}).json()
            again = [client.put(f"/api/competitors/{key}", json=body) for key, body in acknowledged.items()]
    kept = {key: {"licence": present[key]["licence"], "name": present[key]["name"]} for key in acknowledged}
    assert kept == acknowledged
    assert [answer.status_code for answer in again] == [200] * len(acknowledged)
    assert log["chain"]["holds"] is True
    assert log["entries"] >= len(acknowledged)
