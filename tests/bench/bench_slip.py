"""What a slip costs beyond rendering and signing it bare, through the worker process and its check."""

import statistics
import time
from collections.abc import Callable
from datetime import datetime

from app.slips.document import render_slip
from app.slips.press import Press
from app.slips.signing import sign_slip
from tests.unit.slips.records import a_record, identity


def seconds(work: Callable[[], object], times: int = 8) -> float:
    work()
    taken = []
    for _ in range(times):
        begin = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begin)
    return statistics.median(taken)


def test_one_slip() -> None:
    keys, record = identity(), a_record()

    def bare() -> object:
        return sign_slip(
            render_slip(record),
            keys["private_key"],
            keys["certificate"],
            keys["authority"],
            name=record["inspector"]["name"],
            reason="bench",
            signed_at=datetime.fromisoformat(record["slip"]["issued_at"]),
        )

    press = Press()
    try:
        whole = seconds(lambda: press.press_slip(record, keys["private_key"], keys["certificate"], keys["authority"]))
    finally:
        press.close()
    floor = seconds(bare)
    print(f"\none slip, made and checked in its worker: {whole / floor:.2f} × render and sign ({floor * 1e3:.0f} ms)")
