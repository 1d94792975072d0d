"""Several processes look back at once, sheets are signed meanwhile, officials decide about the same result."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier

from app.database import Database
from app.doubts.sweeping import look_back
from app.errors import Conflict, Refused
from tests import builders
from tests.conftest import START, Logbook, an_id
from tests.many_results import copies_of
from tests.web.doubts.raising import at, decide, doubted, go, measured, raise_cause, verdict_of
from tests.web.history import rows

RESULTS, PROCESSES = 400, 4


def test_several_at_once_find_each_result_once_and_one_of_them_says_it_is_done(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    own = measured(logbook, "41", "09:00")
    copies = copies_of(logbook.database, own, RESULTS, lambda n: (START, START + timedelta(seconds=n // 3)))
    go(logbook, "16:00")
    for name in ("one", "two"):
        raise_cause(logbook, at("09:00"), at("16:00"), name=name, look=False)
    together = Barrier(PROCESSES)

    def process(_number: int) -> int:
        """With a door of its own to the database, as another process has."""
        database = Database(logbook.settings.resolved_database_url, logbook.clock)
        together.wait()
        try:
            return look_back(database, piece=7)
        finally:
            database.close()

    with ThreadPoolExecutor(PROCESSES) as pool:
        entered = sum(pool.map(process, range(PROCESSES)))
    assert entered == 2 * (RESULTS + 1)
    assert doubted(logbook, "one") == doubted(logbook, "two") == {own, *copies}
    log = logbook.client("official").get("/api/log?check=true").json()
    assert log["chain"]["holds"]
    assert [line["what"] for line in log["lines"]].count("Looked back") == 2


def test_what_is_signed_while_the_looking_back_runs_is_found_too(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    own = measured(logbook, "41", "13:00")
    copies_of(logbook.database, own, RESULTS, lambda n: (at("13:00"), at("13:00") + timedelta(seconds=n)))
    sheets = [rows.an_open_sheet(logbook, car) for car in ("50", "51", "52")]
    for sheet in sheets:
        builders.readings(logbook, sheet, [[rows.INSIDE, rows.INSIDE]] * 4)
    go(logbook, "16:00")
    raise_cause(logbook, at("12:00"), at("16:00"), look=False)
    with ThreadPoolExecutor(2) as pool:
        looking = pool.submit(look_back, logbook.database, piece=3)
        for sheet in sheets:
            rows.sign(logbook, sheet)
        looking.result()
    assert {verdict_of(logbook, car) for car in ("50", "51", "52")} <= doubted(logbook)
    assert len(doubted(logbook)) == RESULTS + 4


def test_of_two_decisions_about_one_result_at_once_one_stands(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    verdict = measured(logbook, "41", "13:00")
    go(logbook, "16:00")
    raise_cause(logbook, at("12:00"), at("16:00"))
    together = Barrier(2)

    def one(decision: str) -> str:
        together.wait()
        try:
            decide(logbook, [verdict], decision, decision)
        except (Conflict, Refused):  # the other one was faster, by a hair or by more
            return ""
        return decision

    with ThreadPoolExecutor(2) as pool:
        made = [decision for decision in pool.map(one, ("upheld", "withdrawn")) if decision]
    assert len(made) == 1
    found = logbook.client("official").get(f"/api/doubts/{an_id('cause')}").json()["rows"][0]
    assert found["decision"]["decision"] == found["standing"]["state"] == made[0]
