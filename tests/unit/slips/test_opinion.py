"""The simulation that a slip keeps: the same for whoever repeats it, and held against the slip's figures."""

import copy
from typing import Any

import pytest
import rfc8785

from app.slips.opinion import opinion_on, opinion_problem, seed_of
from app.slips.recomputation import recomputed_verdict
from app.slips.wording import validated, whose_risk
from tests.unit.slips.records import a_record


def test_the_same_inputs_are_drawn_the_same_and_others_otherwise() -> None:
    one, other = (rfc8785.dumps(a_record(2, at)["inputs"]).decode() for at in ("10.30", "10.31"))
    assert opinion_on(one) == opinion_on(one)
    assert seed_of(one) != seed_of(other)
    assert 0 <= seed_of(one) < 10**9


def test_what_was_remembered_cannot_be_changed_by_who_was_given_it() -> None:
    frozen = rfc8785.dumps(a_record(2)["inputs"]).decode()
    given = opinion_on(frozen)
    assert given is not None
    given["validated"] = "nonsense"
    assert opinion_on(frozen) != given


def test_a_record_with_its_own_simulation_or_with_none_holds() -> None:
    record = a_record(4)
    assert opinion_problem(record) == ""
    assert recomputed_verdict(record).holds is True
    del record["second_opinion"]
    assert recomputed_verdict(record).holds is True


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"seed": "7"}, "not drawn for this sheet"),
        ({"cylinder": "1"}, "another cylinder"),
        ({"symmetric_low": "10.0"}, "another interval"),
        ({"tolerance": "0.05"}, "another interval"),
        ({"validated": False}, "says otherwise"),
        ({"trials": 100000}, "entries"),
    ],
)
def test_a_simulation_that_does_not_fit_the_slip_is_reported(change: dict[str, Any], said: str) -> None:
    record = copy.deepcopy(a_record(4))
    record["second_opinion"] |= change
    assert said in opinion_problem(record)
    assert recomputed_verdict(record).holds is False


def test_the_slip_says_whether_the_simulation_bears_the_budget_out() -> None:
    borne_out, too_few = a_record(8)["second_opinion"], a_record(1)["second_opinion"]
    assert validated(borne_out).startswith("Validated by simulation")
    assert validated(too_few).startswith("Not validated by simulation")
    assert "cannot be drawn" in validated(None)


def test_the_slip_says_for_whom_each_limit_holds() -> None:
    eight, alone = a_record(8), a_record(1)
    said = whose_risk(eight["result"], eight["rule"])
    assert "greatest of 8 errors" in said
    assert "for one cylinder" in said
    assert whose_risk(alone["result"], alone["rule"]) == ""
    accepting = a_record(8, decision_rule="guarded_acceptance")
    assert "rejection" not in whose_risk(accepting["result"], accepting["rule"])


def test_a_slip_of_a_core_that_judged_each_cylinder_alone_still_prints() -> None:
    from app.slips.document import DENSITIES, page_html

    record = copy.deepcopy(a_record(2))
    result = record["result"]
    for name in ("side", "rejection_factor", "acceptance_factor", "judged", "engine_conformance_probability"):
        del result[name]
    for one in (*result["results"], result["decided"]):
        del one["budget"]["half_width"]
    del record["second_opinion"]
    for name in ("lower_limit", "designated_cylinder", "tolerance_covers_uncertainty"):
        del record["rule"][name]
    html = page_html(record, DENSITIES[0])
    assert "Second opinion" not in html
    assert "k is Student’s t" in html
