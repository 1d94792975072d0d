"""Two protests: one heard and decided at the first event, one taken in today and still open."""

from collections.abc import Callable
from datetime import datetime

from app.demo.logbook import DemoLogbook, an_id
from app.demo.measuring import sheet_id
from app.protests import service as protests
from app.protests.schemas import ProtestIn, StepIn

DECIDED, STILL_OPEN = an_id("protest", "decided"), an_id("protest", "open")


def lodge_first(book: DemoLogbook, moment: datetime) -> None:
    """The team that refused to sign protests against its own result."""
    data = ProtestIn(
        lodged_by_id=an_id("competitor", "W-115"),
        grounds="The engine had come straight from the paddock and was warmer than the others. A warm chamber reads "
        "high, so the figures of car 66 should not have been taken, and the result should be struck out.",
        fee="150 paid in cash",
    )
    with book.at(moment) as session:
        protests.lodge(session, book.people["official2"], sheet_id(1, "66"), DECIDED, data)


def hear_first(book: DemoLogbook, moment: datetime) -> None:
    text = (
        "Heard Wilmot Dray for Greyshore Racing and Nessa Quayle, inspector. The thermometer was in the chamber "
        "and had settled; its figure is on the sheet and was the one dialled."
    )
    with book.at(moment) as session:
        data = StepIn(kind="note", text=text)
        protests.add_step(session, book.people["official2"], DECIDED, an_id("step", DECIDED, 1), data)


def decide_first(book: DemoLogbook, moment: datetime) -> None:
    text = (
        "The temperature that counts is that of the gas in the chamber. It was measured there and is part of the "
        "result, with its own uncertainty. Even five degrees of error would move the figure by 0.15 only, and no "
        "cylinder of this engine is that close to the limit. The closing verification of Bench one was in order. The "
        "result stands."
    )
    with book.at(moment) as session:
        data = StepIn(kind="not_upheld", text=text)
        protests.add_step(session, book.people["official"], DECIDED, an_id("step", DECIDED, 2), data)


def lodge_second(book: DemoLogbook, moment: datetime) -> None:
    """Against a rival's result that is inside the limit; it waits for whoever signs in as official."""
    data = ProtestIn(
        lodged_by_id=an_id("competitor", "W-108"),
        grounds="Car 41 pulled away from every other car of the class on the long straight. We ask that the result of "
        "this morning be looked at again: the reading of its fourth cylinder was taken while the shed door stood open.",
        fee="150 received by card",
    )
    with book.at(moment) as session:
        protests.lodge(session, book.people["official"], sheet_id(3, "41"), STILL_OPEN, data)


def note_second(book: DemoLogbook, moment: datetime) -> None:
    data = StepIn(kind="note", text="Nessa Quayle will be heard when the sheet of car 68 is signed.")
    with book.at(moment) as session:
        protests.add_step(session, book.people["official"], STILL_OPEN, an_id("step", STILL_OPEN, 1), data)


# event: minute of its day, what is done
ACTS: dict[int, tuple[tuple[float, Callable[[DemoLogbook, datetime], None]], ...]] = {
    1: ((200, lodge_first), (246, hear_first), (268, decide_first)),
    3: ((84, lodge_second), (91, note_second)),
}
