"""The server is killed while it looks back: after a restart the list is complete, nothing is doubled, the log holds."""

import contextlib
import os
import random
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import httpx
import pytest
from sqlalchemy import func, select

from app.doubts.models import DoubtedVerdict, LookBack
from app.instruments.models import DoubtCause
from tests.builders import EVENT, INSTRUMENT, PROCEDURE, VOLUME
from tests.conftest import PASSWORD, START, Logbook, an_id
from tests.faults.test_killed import ROOT, START_SECONDS, free_port, serving
from tests.many_results import copies_of
from tests.web.doubts.raising import verdict_of
from tests.web.history import rows

RESULTS, PIECE = 3000, 10
ROUNDS = 10 if "SHEDBOOK_SOAK" in os.environ else 2
Measured = dict[UUID, tuple[datetime, datetime]]


def measured(number: int) -> tuple[datetime, datetime]:
    """A result every minute, from an hour before the opening verification; each took three minutes."""
    first = START + timedelta(minutes=number - 60)
    return first, first + timedelta(minutes=3)


# ---- the facts ---------------------------------------------------------------------------------------------------


def a_missed_closing(number: int) -> tuple[str, str, dict[str, Any]]:
    check = {"instrument_id": str(INSTRUMENT), "reference_volume_id": str(VOLUME), "stage": "closing"}
    shown = {"indications": ["11.62", "11.63", "11.64"], "airflow": "4.72", "ambient_temperature": "21.0"}
    address = f"/api/events/{EVENT}/verifications/{an_id(f'fact {number}')}"
    return "inspector", address, {**check, **shown, **PROCEDURE}


def a_withdrawn_certificate(number: int) -> tuple[str, str, dict[str, Any]]:
    address = f"/api/instruments/{INSTRUMENT}/calibrations/{an_id('calibration')}/withdrawal/{an_id(f'fact {number}')}"
    return "official", address, {"reason": "The laboratory found its own standard changed."}


def a_fault(number: int) -> tuple[str, str, dict[str, Any]]:
    """Last seen in order a little later each time: each of these concerns other results."""
    happened = (START + timedelta(minutes=37 * number)).isoformat()
    body = {"kind": "fault", "happened_at": happened, "text": "The hose leaks.", "affects_indication": True}
    return "inspector", f"/api/instruments/{INSTRUMENT}/notes/{an_id(f'fact {number}')}", body


FACTS = [a_withdrawn_certificate, *[a_fault] * 8, a_missed_closing]
if ROUNDS == 2:
    FACTS = [a_withdrawn_certificate, a_missed_closing]


def concerned(cause: DoubtCause, results: Measured) -> set[UUID]:
    """Said again in plain Python: all of them rest on the one certificate and were made with the one instrument."""
    if cause.calibration_id is not None:
        return set(results)
    since = cause.since or datetime.min.replace(tzinfo=START.tzinfo)
    return {which for which, (first, last) in results.items() if last >= since and first <= cause.until}


# ---- killing -----------------------------------------------------------------------------------------------------


def found(book: Logbook, cause_id: UUID) -> int:
    with book.database.read() as session:
        query = select(func.count()).where(DoubtedVerdict.cause_id == cause_id)
        return session.scalar(query) or 0


def kill_at(book: Logbook, server: subprocess.Popen[bytes], cause_id: UUID, target: int) -> int:
    """Once so many are found and not before; how many were found by then."""
    deadline = time.monotonic() + START_SECONDS
    while found(book, cause_id) < target:
        assert server.poll() is None
        assert time.monotonic() < deadline
    server.kill()
    server.wait()
    return found(book, cause_id)


@contextlib.contextmanager
def starting(address: str, environment: dict[str, str]) -> Iterator[subprocess.Popen[bytes]]:
    """Without waiting until it answers: it looks back before that."""
    command = [sys.executable, "-m", "app", "serve", "--port", address.rpartition(":")[2]]
    with subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL) as server:
        yield server
        server.kill()


def send_until_killed(client: httpx.Client, address: str, body: dict[str, Any]) -> None:
    with contextlib.suppress(httpx.TransportError):
        answer = client.put(address, json=body)
        raise AssertionError(f"the server had done before it was killed: {answer.status_code} {answer.text}")


@pytest.mark.soak
def test_a_kill_in_the_looking_back_loses_nothing_and_doubles_nothing(
    logbook: Logbook, caught: Callable[[], list[BaseException]]
) -> None:
    rows.a_shed(logbook)
    rows.a_result(logbook)
    own = verdict_of(logbook, "41")
    results: Measured = copies_of(logbook.database, own, RESULTS, measured)
    results[own] = (START, START)
    settings = logbook.settings
    environment = {
        **os.environ,
        "SHEDBOOK_DATA_FOLDER": str(settings.data_folder),
        "SHEDBOOK_DATABASE_URL": settings.resolved_database_url,
        "SHEDBOOK_LOOK_BACK_PIECE": str(PIECE),
    }
    address = f"http://127.0.0.1:{free_port()}"
    with contextlib.ExitStack() as opened:
        clients = {
            who: opened.enter_context(httpx.Client(base_url=address, timeout=60)) for who in ("official", "inspector")
        }
        kill_round_after_round(logbook, clients, address, environment, results)
    assert caught() == []


def kill_round_after_round(
    logbook: Logbook, clients: dict[str, httpx.Client], address: str, environment: dict[str, str], results: Measured
) -> None:
    draw = random.Random(20260504)
    for round_number, fact in enumerate(FACTS):
        cause_id = an_id(f"fact {round_number}")
        who, where, body = fact(round_number)
        with serving(address, environment) as server:
            for name, client in clients.items():
                client.headers["sec-fetch-site"] = "same-origin"
                if not client.cookies:
                    client.post("/api/session", json={"sign_in_name": name, "password": PASSWORD}).raise_for_status()
            sending = threading.Thread(target=send_until_killed, args=(clients[who], where, body))
            sending.start()
            await_cause(logbook, cause_id)
            cut_off = kill_at(logbook, server, cause_id, draw.randrange(0, RESULTS // 2))
            sending.join()
        with starting(address, environment) as server:  # and again, while it begins anew
            cut_off_again = kill_at(logbook, server, cause_id, draw.randrange(cut_off, int(RESULTS * 0.6)))
        with serving(address, environment):
            again = clients[who].put(where, json=body)
            whole = clients["official"].get(f"/api/doubts/{cause_id}").json()
            log = clients["official"].get("/api/log", params={"check": True}).json()
        assert again.status_code == 200, again.text
        with logbook.database.read() as session:
            cause = session.get_one(DoubtCause, cause_id)
            expected = concerned(cause, results)
            entered = session.scalars(
                select(DoubtedVerdict.verdict_id).where(DoubtedVerdict.cause_id == cause_id)
            ).all()
            noted = session.get_one(LookBack, cause_id).found
        assert cut_off <= cut_off_again < len(expected)
        assert len(entered) == len(set(entered))
        assert set(entered) == expected
        assert noted == len(expected) == whole["total"]
        assert whole["line"]["is_looked_back"]
        assert log["chain"]["holds"]
        told = [line["what"] for line in whole["happened"]]
        assert [line for line in told if line.startswith(("Results put in doubt", "Looked back"))] == [
            f"Results put in doubt: {cause.reason}",
            f"Looked back, results found in doubt: {len(expected)}",
        ]


def await_cause(book: Logbook, cause_id: UUID) -> None:
    deadline = time.monotonic() + START_SECONDS
    while True:
        with book.database.read() as session:
            if session.get(DoubtCause, cause_id) is not None:
                return
        assert time.monotonic() < deadline


@pytest.fixture
def caught(monkeypatch: pytest.MonkeyPatch) -> Callable[[], list[BaseException]]:
    """What went wrong in a thread, which otherwise ends unseen."""
    seen: list[BaseException] = []
    monkeypatch.setattr(threading, "excepthook", lambda told: seen.append(told.exc_value))
    return lambda: seen
