"""What was studied in the weeks between the events: two inspectors on six chambers, and the airflow of the first bench.

Both wait for an official to adopt them; until then no budget takes anything from them.
"""

from itertools import product

from app.demo import bench, truth
from app.demo.calendar import SECOND_DAYS_AGO, Calendar
from app.demo.logbook import DemoLogbook, an_id
from app.studies import flow, gauge
from app.studies.schemas import FlowStudyIn, GaugeStudyIn, StudyReadingsIn

GAUGE, FLOW = an_id("gauge study"), an_id("flow study")
# practice engine on the stand, its six chambers made unlike on purpose; what each inspector reads more than the other
_CHAMBERS = (9.62, 9.88, 10.05, 10.21, 10.44, 10.71)
_HANDS = {"inspector": 0.004, "inspector2": -0.007}
_PER_L_MIN = 0.021  # what a litre per minute more does to the first bench
_FLOWS = (4.42, 4.57, 4.72, 4.87, 5.02)
_REPEATS = 3


def study(book: DemoLogbook, calendar: Calendar) -> None:
    _gauge(book, calendar)
    _flow(book, calendar)


def _gauge(book: DemoLogbook, calendar: Calendar) -> None:
    asked = {
        "instrument_id": bench.instrument_id(bench.ONE),
        "title": "Two inspectors on the practice engine",
        "parts": [f"Practice engine, cylinder {number}" for number in range(1, len(_CHAMBERS) + 1)],
        "inspector_ids": [book.people[who].id for who in _HANDS],
        "repeats": _REPEATS,
        "tolerance": "0.10",
    }
    with book.at(calendar.moment(SECOND_DAYS_AGO + 25, 9)) as session:
        gauge.plan_study(session, book.people["official"], GAUGE, GaugeStudyIn.model_validate(asked))
    for place, (who, hand) in enumerate(_HANDS.items()):
        chance = truth.numbers_of("gauge study", who)
        bias = bench.BENCHES[bench.ONE].bias
        read = [
            {
                "id": an_id("study reading", who, part, repeat),
                "part": part,
                "repeat": repeat,
                "indication": truth.displayed(_CHAMBERS[part - 1], bias + hand, chance),
            }
            for repeat, part in product(range(1, _REPEATS + 1), range(1, len(_CHAMBERS) + 1))
        ]
        with book.at(calendar.moment(SECOND_DAYS_AGO + 25, 11 + place)) as session:
            data = StudyReadingsIn.model_validate({"readings": read})
            gauge.enter_readings(session, book.people[who], GAUGE, data)


def _flow(book: DemoLogbook, calendar: Calendar) -> None:
    plan = bench.BENCHES[bench.ONE]
    mark = (float(plan.mark[0]) + float(plan.mark[1])) / 2.0
    chance = truth.numbers_of("flow study")
    points = [
        {
            "airflow": f"{at:.2f} L/min",
            "indications": [
                truth.displayed(mark, plan.bias + _PER_L_MIN * (at - float(plan.airflow[0])), chance) for _ in range(5)
            ],
        }
        for at in _FLOWS
    ]
    asked = {
        "instrument_id": bench.instrument_id(bench.ONE),
        "reference_volume_id": an_id("volume", plan.volume),
        "points": points,
        "note": "In the store, flowmeter of the bench itself.",
        "set_back": True,
    }
    with book.at(calendar.moment(SECOND_DAYS_AGO + 24, 10)) as session:
        flow.make_study(session, book.people["inspector"], FLOW, FlowStudyIn.model_validate(asked))
