"""The run of an instrument on one reference volume, as a small picture: how far each verification lay from the mark."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.instruments.schemas import ReferenceVolumeView, VerificationView

HEIGHT = 220
_LEFT, _TOP, _BOTTOM, _EDGE = 64, 24, 188, 16
MOST = {"wide": 30, "narrow": 10}  # verifications that can still be told apart
WIDTHS = {"wide": 720, "narrow": 360}  # the narrow one is drawn for a phone, so that its words stay readable


@dataclass(frozen=True, slots=True)
class RunPoint:
    x: float
    y: float
    role: str  # "good" | "missed" | "refused"
    words: str


@dataclass(frozen=True, slots=True)
class RunPicture:
    """Places in a box of `width` by `height`; ratio upwards, verifications from the oldest on the left."""

    volume: ReferenceVolumeView
    shape: str
    width: int
    height: int
    left: int
    right: int
    mark_top: float
    mark_bottom: float
    highest: float
    lowest: float
    points: tuple[RunPoint, ...]
    path: str
    sentence: str


def run_of(
    volume: ReferenceVolumeView, verifications: Sequence[VerificationView], shape: str = "wide"
) -> RunPicture | None:
    """None when this reference volume was never used. `verifications` latest first, as the views hold them."""
    own = [check for check in verifications if check.reference_volume.id == volume.id][: MOST[shape]][::-1]
    if not own:
        return None
    low, high = float(volume.lowest_accepted), float(volume.highest_accepted)
    means = [float(check.mean) for check in own]
    least, greatest = min(low, *means), max(high, *means)
    margin = 0.12 * (greatest - least) or 0.05
    least, greatest = least - margin, greatest + margin

    def up(value: float) -> float:
        return round(_BOTTOM - (value - least) / (greatest - least) * (_BOTTOM - _TOP), 1)

    right = WIDTHS[shape] - _EDGE
    step = (right - _LEFT) / (len(own) + 1)
    points = tuple(
        RunPoint(round(_LEFT + step * place, 1), up(mean), _role(check), _words(check, mean))
        for place, (check, mean) in enumerate(zip(own, means, strict=True), start=1)
    )
    judged = [point for point in points if point.role != "refused"]
    return RunPicture(
        volume=volume,
        shape=shape,
        width=WIDTHS[shape],
        height=HEIGHT,
        left=_LEFT,
        right=right,
        mark_top=up(float(volume.mark_high)),
        mark_bottom=up(float(volume.mark_low)),
        highest=up(high),
        lowest=up(low),
        points=points,
        path="M" + "L".join(f"{point.x} {point.y}" for point in judged) if len(judged) > 1 else "",
        sentence=_sentence(volume, own),
    )


def _role(check: VerificationView) -> str:
    if check.off_airflow:
        return "refused"
    return "good" if check.accepted else "missed"


def _words(check: VerificationView, mean: float) -> str:
    return f"{mean:.3f}, {check.stage_words.lower()}, {check.event_name}, {check.performed_at:%Y-%m-%d}"


def _sentence(volume: ReferenceVolumeView, own: Sequence[VerificationView]) -> str:
    missed = sum(_role(check) == "missed" for check in own)
    refused = sum(_role(check) == "refused" for check in own)
    latest = own[-1]
    return (
        f"{len(own)} verifications on reference volume {volume.serial}, mark {volume.mark_text}, accepted from "
        f"{volume.lowest_accepted:f} to {volume.highest_accepted:f}; {missed} missed, {refused} refused for the "
        f"airflow. The latest read {float(latest.mean):.3f}."
    )
