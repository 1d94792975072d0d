"""What a notice says about the slips it names; screen and paper say it in the same words."""

from collections.abc import Mapping
from typing import Any

KINDS = {"doubt": "Slips in doubt", "decision": "Decision on slips in doubt"}
DECISIONS = {"upheld": "Upheld", "measured_again": "Measured again", "withdrawn": "Withdrawn"}
_HEADINGS = {
    "doubt": "The results on these slips are in doubt.",
    "upheld": "The results on these slips are upheld.",
    "measured_again": "These engines were measured again.",
    "withdrawn": "The results on these slips are withdrawn.",
}
_MEANINGS = {
    "doubt": "Each result stays as it was signed until an official has decided about it by name. A further notice "
    "tells the decision.",
    "upheld": "They were in doubt; they stand as they were signed, for the reasons given below.",
    "measured_again": "The result that counts is on the later slip named beside each. The earlier slip stays as it "
    "was signed, and no longer decides.",
    "withdrawn": "They no longer count. The slips stay as they were signed.",
}
_OF_ONE = {
    "doubt": "It says that the result on this slip is in doubt.",
    "upheld": "It says that the result on this slip is upheld.",
    "measured_again": "It says that the engine of this slip was measured again, and which slip counts.",
    "withdrawn": "It says that the result on this slip is withdrawn.",
}
UNCHANGED = "This notice changes no slip: each stays, byte for byte, as it was signed."


def outcome(record: Mapping[str, Any]) -> str:
    """doubt, or what was decided."""
    key: str = "doubt" if record["decision"] is None else record["decision"]["decision"]
    return key


def heading(record: Mapping[str, Any]) -> str:
    return _HEADINGS[outcome(record)]


def heading_of(key: str) -> str:
    return _HEADINGS[key]


def of_one(key: str) -> str:
    """What the notice says to whoever holds one of its slips."""
    return _OF_ONE[key]


def meaning(record: Mapping[str, Any]) -> str:
    return _MEANINGS[outcome(record)]


def how_many(record: Mapping[str, Any]) -> str:
    count = len(record["slips"])
    return "1 slip" if count == 1 else f"{count} slips"


def said_by(record: Mapping[str, Any]) -> str:
    """The notice in a few sentences."""
    why = record["decision"]["reasons"] if record["decision"] else " ".join(one["reason"] for one in record["causes"])
    return f"{heading(record)} {why} It names {how_many(record)}."
