"""A signature as a finger would draw it on the pad: straight pieces between whole points, as the page sends them."""

from math import cos, pi, sin


def drawn_path() -> str:
    """A capital loop, a run of waves that tires, and a stroke beneath."""
    capital = [(60 + 34 * cos(t), 84 - 46 * sin(t)) for t in _steps(0.15 * pi, 2.35 * pi, 26)]
    waves = [(92 + 190 * u, 100 - (22 - 12 * u) * sin(9.5 * pi * u) - 8 * u) for u in _steps(0.0, 1.0, 60)]
    under = [(70 + 230 * u, 138 - 14 * u + 4 * sin(pi * u)) for u in _steps(0.0, 1.0, 10)]
    return "".join(_stroke(points) for points in (capital + waves, under))


def _steps(first: float, last: float, count: int) -> list[float]:
    return [first + (last - first) * place / count for place in range(count + 1)]


def _stroke(points: list[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{round(x)} {round(y)}" for x, y in points)
