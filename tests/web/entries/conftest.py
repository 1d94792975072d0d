import pytest

from tests.conftest import Logbook
from tests.web.entries.season import begin


@pytest.fixture
def season(logbook: Logbook) -> Logbook:
    return begin(logbook)
