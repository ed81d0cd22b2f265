"""The least squares adjustment of a measured run: the smallest changes, weighted, that make it close.

Each measurement counts by the square of what it may be off. Sought are the changes v with the least sum of
(v / sigma)² for which the walk ends where it must and turns as it must. They are found by solving the conditions,
made linear, for the change of least length, over and over (Gauss and Newton); where that comes to rest the true
conditions hold, and v lies in the span of their slopes, which is what a least sum means.

The tests for blunders are W. Baarda's (A testing procedure for use in geodetic networks, 1968; from memory): a change
over its own standard deviation is a standard normal figure when all measurements are as good as was said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from preview.errors import PreviewError
from preview.runs.survey_traverse import Floats, Measured, Traverse
from preview.units import degrees_text

CHI_SQUARE_99 = (math.inf, 6.635, 9.210, 11.345)
"""What the overall figure of good measurements stays under 99 times in 100, by the number of checks (the upper critical
values of chi-square at 0.01: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4; from memory, and compared in
the tests)."""
ALIKE = 0.95
"""From this correlation on, or from this part of the likeliest blunder's figure, another is as likely to blame."""
CHECKED = 1e-6
"""A measurement with a smaller share in the checks is not checked at all."""
GROSS_TURN = math.radians(30)
ENDS_WITHIN, TURNS_WITHIN = 1e-9, 1e-12
MOST_ROUNDS = 100
FAR = 1e9
"""A round that comes out beyond this, mm or radians, leads nowhere."""


@dataclass(frozen=True)
class Corrected:
    """One measurement and what became of it; mm or radians.

    correction: adjusted less measured. share: of the checks, 0 (nothing checks it) to 1 (all of it is checked); the
    shares add up to the number of checks. normal: the correction over its own standard deviation, 0 where it is not
    checked; over 3 is a blunder in all likelihood. alone: the change it would need if it alone were wrong; as large as
    the correction where it is not checked.
    """

    measured: Measured
    adjusted: float
    correction: float
    share: float
    normal: float
    alone: float

    @property
    def change(self) -> float:
        """The correction as it is read on site: mm, or degrees."""
        return self.measured.as_read(self.adjusted) - self.measured.as_read(self.measured.value)

    @property
    def times(self) -> float:
        """The size of the correction, in units of what the measurement may be off; 0 where that is nothing."""
        return abs(self.correction) / self.measured.within if self.measured.within else 0.0

    @property
    def times_alone(self) -> float:
        """The same of the change it would need if it alone were wrong."""
        return abs(self.alone) / self.measured.within if self.measured.within else 0.0


@dataclass(frozen=True)
class Adjustment:
    """A run's measurements, adjusted.

    checks: the degrees of freedom. overall: the sum of (correction / sigma)². limit: what that stays under 99 times in
    100 when the measurements are as good as was said. suspects: indices of the rows to be measured again first, the
    likeliest blunder, what is as likely and what cannot be told from it; empty where the measurements agree.
    """

    rows: tuple[Corrected, ...]
    checks: int
    overall: float
    limit: float
    suspects: tuple[int, ...]

    @property
    def worst(self) -> Corrected:
        """The measurement whose correction is largest beside what it may be off."""
        return max(self.rows, key=lambda row: row.times)

    @property
    def credible(self) -> bool:
        """Whether no correction is larger than what its measurement may be off, nor all of them together."""
        return _credible(self.rows, self.overall, self.limit)


def adjust(walked: Traverse) -> Adjustment:
    """The changes of least weighted sum of squares that make a run close or arrive.

    What closes already is left as it is, to the last bit. Raises PreviewError, at `closed` or `arrives`, where no
    measurement that may be off lies in the way of the miss, or the miss is too large for a slip of measuring.
    """
    values = walked.values()
    sigma = np.array([each.sigma for each in walked.measured])
    _refuse_gross_turn(walked, values)
    u = np.zeros(len(values))
    if not _holds(walked, walked.misses(values)):
        u = _least(walked, values, sigma)
    adjusted = values + sigma * u
    basis = _basis(walked, adjusted, sigma)
    share = np.sum(basis * basis, axis=0)
    checked = share > CHECKED
    root = np.sqrt(np.where(checked, share, 1.0))
    normal = np.where(checked, u / root, 0.0)
    alone = sigma * u / np.where(checked, share, 1.0)
    columns = (adjusted, sigma * u + 0.0, share, normal, alone)
    rows = tuple(
        Corrected(each, *(float(part) for part in parts))
        for each, *parts in zip(walked.measured, *(column.tolist() for column in columns), strict=True)
    )
    overall, limit = float(u @ u), CHI_SQUARE_99[len(basis)]
    suspects: tuple[int, ...] = ()
    if not _credible(rows, overall, limit):
        first = int(np.argmax(np.abs(normal)))
        alike = np.abs(basis.T @ basis[:, first]) / (root * root[first])
        likely = (alike >= ALIKE) | (np.abs(normal) >= ALIKE * abs(float(normal[first])))
        suspects = tuple(sorted(np.flatnonzero(checked & likely).tolist(), key=lambda i: -abs(float(normal[i]))))
    return Adjustment(rows, len(basis), overall, limit, suspects)


def _credible(rows: tuple[Corrected, ...], overall: float, limit: float) -> bool:
    return overall <= limit and all(row.times <= 1.0 for row in rows)


def _holds(walked: Traverse, misses: Floats) -> bool:
    """Whether the walk ends and turns as it must, to what numbers can hold."""
    far = ENDS_WITHIN + 1e-13 * walked.length()
    return bool(np.all(np.abs(misses) <= np.array([far, far, TURNS_WITHIN])[: len(misses)]))


def _basis(walked: Traverse, values: Floats, sigma: Floats) -> Floats:
    """(checks, n): an orthonormal basis of the changes, in units of sigma, that move the end or the last turn."""
    slopes = walked.linear(values)[1] * sigma
    _, sizes, directions = np.linalg.svd(slopes / _lengths(slopes)[:, None], full_matrices=False)
    return np.asarray(directions[sizes > 1e-9], dtype=np.float64)


def _lengths(slopes: Floats) -> Floats:
    found = np.sqrt(np.sum(slopes * slopes, axis=1))
    return np.where(found > 0.0, found, 1.0)


def _least(walked: Traverse, values: Floats, sigma: Floats) -> Floats:
    """(n,): the changes in units of sigma."""
    u: Floats = np.zeros(len(values))
    before = math.inf
    for _ in range(MOST_ROUNDS):
        now = values + sigma * u
        if not _walkable(walked, now):
            break
        misses, slopes = walked.linear(now)
        slopes *= sigma
        size = _lengths(slopes)
        rows = slopes / size[:, None]
        new = _shortest(rows, rows @ u - misses / size)
        moved = float(np.linalg.norm(new - u))
        u = new
        settled = 1.0 + float(np.linalg.norm(u))
        # Rounding keeps long walks from coming to rest; then the rounds no longer come nearer.
        if moved <= 1e-14 * settled or (moved <= 1e-9 * settled and moved >= before):
            break
        before = moved
    found = values + sigma * u
    if not (_walkable(walked, found) and _sane(walked, found) and _holds(walked, walked.misses(found))):
        raise _cannot(walked, values, sigma)
    return u


def _shortest(rows: Floats, sides: Floats) -> Floats:
    """The shortest u for which rows @ u comes nearest to the sides."""
    return np.asarray(np.linalg.lstsq(rows, sides, rcond=1e-9)[0], dtype=np.float64)


def _walkable(walked: Traverse, values: Floats) -> bool:
    """Whether the values are numbers, every radius more than nothing, and no curve turned by nothing at all."""
    measured = list(zip(walked.measured, values.tolist(), strict=True))
    radii = [value for each, value in measured if each.kind == "radius"]
    sweeps = [value for each, value in measured if each.kind == "sweep"]
    return bool(np.all(np.abs(values) < FAR)) and all(radius > 0.0 for radius in radii) and all(sweeps)


def _sane(walked: Traverse, values: Floats) -> bool:
    """Whether no length came out under half of what was measured, no turn the other way or more than once round."""
    return all(
        each.kind in ("arrives x", "arrives y")
        or (0.0 < value * math.copysign(1.0, each.value) < math.tau if each.is_angle else value > 0.5 * each.value)
        for each, value in zip(walked.measured, values.tolist(), strict=True)
    )


def _refuse_gross_turn(walked: Traverse, values: Floats) -> None:
    if walked.whole is None:
        return
    over = float(walked.misses(values)[2])
    if abs(over) > GROSS_TURN:
        raise PreviewError(
            "closed",
            "true",
            f"the corners and curves turn {degrees_text(abs(over + walked.whole))} in all, and a closed run turns 360°",
            "check that no corner is missing and that each turns the right way",
        )


def _cannot(walked: Traverse, values: Floats, sigma: Floats) -> PreviewError:
    """Why the miss cannot be spread."""
    misses, slopes = walked.linear(values)
    slopes *= sigma
    place, value = ("closed", "true") if walked.target else ("arrives", None)
    if walked.whole is not None and not np.any(slopes[2]) and abs(misses[2]) > TURNS_WITHIN:
        return PreviewError(
            place,
            value,
            f"the corners and curves miss one whole turn by {degrees_text(abs(float(misses[2])))}, "
            "and none of their angles may be off",
            "say how far the angles may be off: measured = { angles = 0.5 }, or check them",
        )
    size = _lengths(slopes)
    rows, sides = slopes / size[:, None], misses / size
    left = float(np.linalg.norm((rows @ _shortest(rows, sides) - sides) * size))
    far = f"the run misses its {'start' if walked.target else 'point of arrival'} by {math.hypot(*misses[:2]):.3f} mm"
    if left > 1e-6 * (1.0 + float(np.linalg.norm(misses))):
        return PreviewError(
            place,
            value,
            f"{far}, and what may be off does not change all of that",
            'say how far the others may be off: measured = { lengths = "1/8", angles = 0.5 }',
        )
    return PreviewError(
        place,
        value,
        f"{far}, too far for what its measurements may be off",
        "check that no step is missing, and that every corner turns the right way",
    )
