"""The worker processes: what they make, and what happens when one is slow, stops, or has done its share."""

import hashlib
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest

from app.errors import Unavailable
from app.slips.findings import NOT_A_SLIP, SignedSlip
from app.slips.press import Press
from tests.unit.slips.records import a_record, identity


@pytest.fixture(scope="module")
def press() -> Iterator[Press]:
    made = Press(workers=2, seconds=60)
    yield made
    made.close()


def pressed(press: Press, cylinders: int = 1) -> SignedSlip:
    keys = identity()
    return press.press_slip(a_record(cylinders), keys["private_key"], keys["certificate"], keys["authority"])


def test_a_pressed_slip_is_genuine_and_its_digest_is_its_own(press: Press) -> None:
    made = pressed(press, 8)
    assert made.sha256 == hashlib.sha256(made.pdf).hexdigest()
    found = press.verify_slip(made.pdf, identity()["authority"], made.sha256)
    assert found.genuine
    assert found.record is not None
    assert found.record["entry"]["car_number"] == "41"


def test_an_upload_is_looked_at_in_the_worker_too(press: Press) -> None:
    found = press.verify_slip(b"not a slip", identity()["authority"])
    assert not found.genuine
    assert found.sentence == NOT_A_SLIP


def test_many_threads_share_the_workers(press: Press) -> None:
    with ThreadPoolExecutor(6) as threads:
        made = list(threads.map(lambda _: pressed(press), range(6)))
    # ECDSA signatures are random, so six are six; what was rendered is the same in all.
    assert len({one.sha256 for one in made}) == 6
    assert len({one.pdf[:20_000] for one in made}) == 1


def test_a_record_that_cannot_be_laid_out_gets_a_sentence_and_the_worker_goes_on(press: Press) -> None:
    keys = identity()
    broken = a_record(1)
    del broken["engine"]
    with pytest.raises(Unavailable, match="could not be made"):
        press.press_slip(broken, keys["private_key"], keys["certificate"], keys["authority"])
    assert pressed(press).pdf.startswith(b"%PDF")


def test_a_worker_that_takes_too_long_is_ended_and_replaced() -> None:
    quick = Press(workers=1, seconds=20)
    try:
        first = quick._run(os.getpid)
        quick._seconds = 0.5
        begun = time.monotonic()
        with pytest.raises(Unavailable, match="too long"):
            quick._run(time.sleep, 60)
        assert time.monotonic() - begun < 5
        quick._seconds = 20
        second = quick._run(os.getpid)
        assert second != first
        with pytest.raises(ProcessLookupError):
            os.kill(first, 0)
    finally:
        quick.close()


def test_a_worker_that_dies_at_work_is_replaced() -> None:
    fragile = Press(workers=1, seconds=20)
    try:
        with pytest.raises(Unavailable, match="stopped before"):
            fragile._run(os._exit, 9)
        assert fragile._run(abs, -3) == 3
    finally:
        fragile.close()


def test_a_worker_killed_while_idle_is_not_noticed_by_the_next_slip() -> None:
    fragile = Press(workers=1, seconds=20)
    try:
        worker = fragile._run(os.getpid)
        os.kill(worker, 9)
        time.sleep(0.2)
        assert fragile._run(abs, -3) == 3
    finally:
        fragile.close()


def test_a_worker_retires_after_its_share() -> None:
    retiring = Press(workers=1, seconds=20, slips_per_worker=2)
    try:
        workers = [retiring._run(os.getpid) for _ in range(5)]
    finally:
        retiring.close()
    assert [workers[0] == workers[1], workers[1] == workers[2], workers[2] == workers[3]] == [True, False, True]
    assert len(set(workers)) == 3


def test_when_all_workers_are_busy_the_wait_has_an_end() -> None:
    busy = Press(workers=1, seconds=2)
    try:
        busy._run(abs, -1)
        thread = threading.Thread(target=lambda: busy._run(time.sleep, 1.5))
        thread.start()
        time.sleep(0.2)
        busy._seconds = 0.3
        with pytest.raises(Unavailable, match="busy"):
            busy._run(abs, -1)
        thread.join()
    finally:
        busy.close()


def test_of_a_crowd_only_as_many_wait_as_have_a_place() -> None:
    crowded = Press(workers=1, seconds=20, most_callers=2)
    try:
        crowded._run(abs, -1)
        with ThreadPoolExecutor(2) as two:
            waiting = [two.submit(crowded._run, time.sleep, 0.6) for _ in range(2)]
            time.sleep(0.2)
            began = time.monotonic()
            with pytest.raises(Unavailable, match="busy"):
                crowded._run(abs, -1)
            assert time.monotonic() - began < 0.3
            for one in waiting:
                one.result()
        assert crowded._run(abs, -1) == 1  # a place that was left is free again
    finally:
        crowded.close()


def test_no_process_is_left_when_the_press_is_closed() -> None:
    made = Press(workers=1, seconds=20)
    worker = made._run(os.getpid)
    made.close()
    with pytest.raises(ProcessLookupError):
        os.kill(worker, 0)


def test_closing_a_press_that_never_worked_is_no_trouble() -> None:
    Press().close()


def test_warming_up_starts_a_worker_that_is_then_used() -> None:
    made = Press(workers=1, seconds=60)
    try:
        made.warm()
        begun = time.monotonic()
        while made._workers[0]._process is None and time.monotonic() - begun < 20:
            time.sleep(0.02)
        assert made._workers[0]._process is not None
        assert made._run(abs, -3) == 3
    finally:
        made.close()


def test_the_web_process_never_loads_the_layout_and_signature_machinery() -> None:
    program = (
        "import sys; import app.main; import app.slips.press, app.slips.findings, app.slips.record;"
        "print([name for name in ('weasyprint', 'pyhanko', 'fontTools', 'asn1crypto') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True, text=True)
    assert done.stdout.strip() == "[]"


def test_a_finding_comes_back_without_loading_that_machinery_either() -> None:
    program = (
        "import sys\n"
        "from app.slips.press import Press\n"
        "if __name__ == '__main__':\n"
        "    press = Press()\n"
        "    found = press.verify_slip(b'x', sys.stdin.read())\n"
        "    press.close()\n"
        "    print(found.genuine, 'pyhanko' in sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], input=identity()["authority"], check=True, capture_output=True, text=True
    )
    assert done.stdout.strip() == "False False"
