from tests.conftest import Logbook


def test_health_answers_from_the_database(logbook: Logbook) -> None:
    assert logbook.client().get("/health").text == "ok"
