"""A run whose curves become corners, turns or curves of another radius, while its walls stay where they are.

A wall line is the line of a straight. Those beside a curve are its tangents, so all that changes is where along them
the straights end. With a the half of the curve's whole turn, R its radius and n the number of turns, each of the two
straights grows by

    a mitered corner:      R tan a           the tangent length of the handbooks: to where the two lines meet
    another radius R':     (R - R') tan a    the difference of two tangent lengths, - where the radius is larger
    n turns:               R tan b, b = a/n  where molding wraps the outside. The n - 1 facets, 2 R tan b long, touch
                                             the curve from outside in their middles: nothing is cut from the wall.
                           0                 where it lines the inside, as facets behind the curve would lie in the
                                             wall. The first turn stands where the curve begins, the last where it
                                             ends, and the facets, 2 R sin a sin b / sin(a - b) long, off the wall.

(n = 1 is the mitered corner.) The straight that is to grow may not be there: at a corner, another curve, a block or an
end of the run. Then one is put in.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import cast

from preview.runs import Adjustment, Straight
from preview.scene.model import RunInScene
from preview.scene.steps import CLIMB, VERBS, read_step
from preview.scene.table import Log, Table
from preview.scene.written import Decimal
from preview.units import Unit, angle, cos_sin, degrees_text, inches, parse_angle, parse_length, show

Row = Mapping[str, object]
CURVES = {"curve_left": "left", "curve_right": "right"}
"""The words for curves, and for the corners that turn the same way."""
HALF_TURN = 180
NOTHING = Fraction(1, 10**9)
"""mm that rounding leaves of lengths which add up to nothing."""


@dataclass(frozen=True)
class Wanted:
    """What a curve is to become.

    radius: as written, and the change that says so; None for the one it has. turns: how many it goes round in, 1 for a
    mitered corner, and the change that says so; None where it stays a curve.
    """

    radius: tuple[object, Table] | None = None
    turns: tuple[int, Table] | None = None


@dataclass(frozen=True)
class Rebuilt:
    """A run's keys after the change, and what each of its steps is called: after the steps as they were before."""

    keys: dict[str, object]
    called: tuple[str, ...]


@dataclass(frozen=True)
class _Curve:
    """A curve that changes.

    at: its place among the steps. tangent: of half its turn; None from half a turn on. becomes: its radius, mm.
    """

    at: int
    wanted: Wanted
    sweep: Fraction
    radius: Fraction
    tangent: Fraction | None
    becomes: Fraction
    lines_inside: bool

    @property
    def turns(self) -> int | None:
        """How many turns it goes round in."""
        return self.wanted.turns and self.wanted.turns[0]

    @property
    def reach(self) -> Fraction:
        """The tangent of half of one of its turns, as far as they reach out over the curve's ends; else 0."""
        if self.turns is None or (self.lines_inside and self.turns > 1):
            return Fraction()
        return _tangent(self.sweep / 2 / self.turns)

    @property
    def grows(self) -> Fraction:
        """mm by which the straight on either side of it grows."""
        moved = (self.radius - self.becomes) * self.tangent if self.tangent else Fraction()
        return moved + self.becomes * self.reach

    @property
    def facet(self) -> Fraction:
        """mm from one of its turns to the next."""
        half = self.sweep / 2
        part = half / (self.turns or 1)
        if not self.lines_inside:
            return 2 * self.becomes * self.reach
        a, b = math.radians(half), math.radians(part)
        return 2 * self.becomes * Fraction(math.sin(a) * math.sin(b) / math.sin(a - b))


@dataclass
class _Lengths:
    """What is added, mm: to the straight at a place, and in the gap before a place (the last gap ends the run)."""

    straights: defaultdict[int, Fraction] = field(default_factory=lambda: defaultdict(Fraction))
    gaps: defaultdict[int, Fraction] = field(default_factory=lambda: defaultdict(Fraction))
    start: Fraction = Fraction()


def rebuilt(keys: Row, placed: RunInScene, unit: Unit, wanted: Mapping[int, Wanted]) -> Rebuilt | None:
    """The keys of a run, changed; None, and noted in the changes' rows, where a curve cannot become what is wanted.

    placed: the run that these keys were read as. wanted: by the place of each curve among the steps, from 0.
    """
    run, survey = placed.run, placed.survey
    keys, rows = dict(keys), cast("list[Row]", keys["steps"])
    if survey and survey.adjustment and survey.closing == "spread":
        # What was spread over the measurements stays spread: the walls are those of the run as it was laid out.
        keys = {key: value for key, value in keys.items() if key not in ("measured", "closing", "arrives")}
        rows = list(_adjusted(rows, survey.adjustment, unit))
    hand = 1 if run.room == "left" else -1
    curves = [_curve(rows[at], at, each, unit, hand) for at, each in sorted(wanted.items())]
    smooth = run.closed and run.turns[0] == 0.0  # the last step goes on into the first without a corner
    if [each for each in curves if not _can_become(each)]:
        return None
    lengths = _lengths(rows, curves, smooth)
    if False in [*_refused(rows, curves, lengths, smooth, unit)]:
        return None
    steps = list(_steps(rows, {each.at: each for each in curves}, lengths, unit))
    heading = parse_angle(cast("int", keys.get("heading", 0)))
    if lengths.start:
        keys["start"] = _moved(keys.get("start", [0, 0]), heading, lengths.start, unit)
    first = next((word for word in ("left", "right") if word in steps[0][0]), "") if smooth else ""
    if first:  # a closed run ends with the corner that it would begin with
        turn = parse_angle(cast("str", steps[0][0][first]))
        keys["heading"] = _degrees((heading + (turn if first == "left" else -turn)) % 360)
        steps = [*steps[1:], steps[0]]
    keys["steps"] = [row for row, _ in steps]
    return Rebuilt(keys, tuple(called for _, called in steps))


def _curve(row: Row, at: int, wanted: Wanted, unit: Unit, hand: int) -> _Curve:
    verb = next(verb for verb in CURVES if verb in row)
    sweep = parse_angle(cast("str", row[verb]))
    radius = parse_length(cast("str", row["radius"]), unit)
    becomes = radius if wanted.radius is None else parse_length(cast("str", wanted.radius[0]), unit)
    tangent = _tangent(sweep / 2) if sweep < HALF_TURN else None
    return _Curve(at, wanted, sweep, radius, tangent, becomes, (verb == "curve_left") == (hand == 1))


def _tangent(degrees: Fraction) -> Fraction:
    """The tangent of an angle less than a quarter turn; of half a square corner exactly 1."""
    return Fraction(1) if degrees == 45 else Fraction(math.tan(math.radians(degrees)))


def _lengths(rows: Sequence[Row], curves: Sequence[_Curve], smooth: bool) -> _Lengths:
    found, count = _Lengths(), len(rows)
    for curve in curves:
        grows = curve.grows
        before, after = curve.at - 1, curve.at + 1
        if smooth and before < 0:
            before, found.start = count - 1, found.start + grows
        if smooth and after == count and "straight" in rows[0]:
            after, found.start = 0, found.start - grows
        if before >= 0 and "straight" in rows[before]:
            found.straights[before] += grows
        else:
            found.gaps[curve.at if curve.at or not smooth else count] += grows
        if after < count and "straight" in rows[after]:
            found.straights[after] += grows
        else:
            found.gaps[curve.at + 1] += grows
    return found


# What is refused.


def _can_become(curve: _Curve) -> bool:
    """Whether the two walls beside a curve meet, where that is needed; noted where not."""
    if curve.tangent is not None or (curve.turns != 1 and curve.becomes == curve.radius):
        return True
    step = curve.at + 1
    said = f"step {step} turns by {degrees_text(angle(curve.sweep))}, and the walls beside it do not meet in a corner"
    if curve.wanted.turns and curve.turns == 1:
        row = curve.wanted.turns[1]
        fix = "write a change for each step that becomes a corner: step = 2; this one can go round in turns"
        row.wrong("curves", row.shown("curves"), said, fix)
    elif curve.wanted.radius:
        row = curve.wanted.radius[1]
        fix = "write a change for each step that gets another radius: step = 2; or the steps anew: steps = [...]"
        row.wrong("radius", row.shown("radius"), f"{said}, so another radius would move one of them", fix)
    return False


def _refused(
    rows: Sequence[Row], curves: Sequence[_Curve], lengths: _Lengths, smooth: bool, unit: Unit
) -> Iterator[bool]:
    """False, and noted, for each straight that larger radii would use up."""
    for at, more in lengths.straights.items():
        long = parse_length(cast("str", rows[at]["straight"]), unit)
        if long + more < -NOTHING:
            beside = [each for each in curves if abs(each.at - at) in ((1, len(rows) - 1) if smooth else (1,))]
            yield _too_large(beside, f"step {at + 1} is {show(long, unit)} long", long, more, unit)
    for at, more in lengths.gaps.items():
        if more < -NOTHING:
            ends = {0: "before step 1, where the run begins,", len(rows): f"after step {at}, where the run ends,"}
            if smooth:
                ends[len(rows)] = f"between step {at} and step 1"
            beside = [
                each for each in curves if at in (each.at, each.at + 1) or (smooth and at == len(rows) and each.at == 0)
            ]
            where = ends.get(at, f"between step {at} and step {at + 1}")
            yield _too_large(beside, f"{where} there is no straight", Fraction(), more, unit)


def _too_large(beside: Sequence[_Curve], said: str, long: Fraction, more: Fraction, unit: Unit) -> bool:
    """Note, at a change that makes a radius larger, what its curves take from a straight of this length."""
    row = next(each.wanted.radius[1] for each in beside if each.grows < 0 and each.wanted.radius)
    changed = [each for each in beside if each.becomes != each.radius]
    takes = "the two curves beside it take" if len(changed) > 1 else "the curve beside it takes"
    problem = f"{said}, and with this radius {takes} {show(-more, unit)} of it"
    given = long + more + sum(each.becomes * (each.tangent or 0) - each.becomes * each.reach for each in changed)
    most = given / sum((each.tangent or Fraction()) - each.reach for each in changed)
    fix = f"use a radius of at most {show(most, unit)}, with which nothing is left of it"
    if not long:
        fix = f"use a radius of at most {show(most, unit)}, or write the steps of this option yourself: steps = [...]"
    row.wrong("radius", row.shown("radius"), problem, fix)
    return False


# The steps anew.


def _steps(
    rows: Sequence[Row], curves: Mapping[int, _Curve], lengths: _Lengths, unit: Unit
) -> Iterator[tuple[Row, str]]:
    """The steps, each with what it is called. A straight of which exactly nothing is left is left out."""
    for at, row in enumerate(rows):
        yield from _put_in(lengths.gaps.get(at), f"step {at}" if at else "", unit)
        called = f"step {at + 1}"
        if at in curves:
            yield from ((each, called) for each in _become(row, curves[at], unit))
        elif lengths.straights.get(at):
            long = parse_length(cast("str", row["straight"]), unit) + lengths.straights[at]
            if long > NOTHING:
                yield {**row, "straight": written_length(long, unit)}, called
        else:
            yield row, called
    yield from _put_in(lengths.gaps.get(len(rows)), f"step {len(rows)}", unit)


def _put_in(length: Fraction | None, after: str, unit: Unit) -> Iterator[tuple[Row, str]]:
    if length is not None and length > NOTHING:
        called = f"the straight put in after {after}" if after else "the straight put in before step 1"
        yield {"straight": written_length(length, unit)}, called


def _become(row: Row, curve: _Curve, unit: Unit) -> Iterator[Row]:
    """What stands in place of a curve."""
    verb, turns = next(verb for verb in CURVES if verb in row), curve.turns
    if turns is None:
        yield {verb: row[verb], "radius": curve.wanted.radius and curve.wanted.radius[0], **_kept(row, "within")}
    elif turns == 1:
        yield {CURVES[verb]: row[verb], **_kept(row, "within")}
    else:
        for count in range(turns):
            if count:
                yield {"straight": written_length(curve.facet, unit)}
            yield {CURVES[verb]: _degrees(curve.sweep / turns)}


def _kept(row: Row, key: str) -> Row:
    return {key: row[key]} if key in row else {}


def _adjusted(rows: Sequence[Row], adjustment: Adjustment, unit: Unit) -> Iterator[Row]:
    """The steps of a measured run with what its survey made of them; how far each may be off is left out."""
    values = {(each.measured.step, each.measured.kind): each.adjusted for each in adjustment.rows}
    for number, row in enumerate(rows, 1):
        verb = next(verb for verb in VERBS if verb in row)
        rest = {key: value for key, value in row.items() if key not in (verb, "within", "radius", "radius_within")}
        if (number, "straight") in values:
            step = read_step(Table(row, "", Log()), unit, 1, lambda _: None)
            rest = {key: value for key, value in rest.items() if key not in CLIMB}
            if isinstance(step, Straight) and step.slope:
                rest["pitch"] = _degrees(Fraction(math.degrees(math.atan(step.slope))))
            yield {"straight": written_length(Fraction(values[number, "straight"]), unit), **rest}
        elif (number, "corner") in values:
            turn = math.degrees(values[number, "corner"])
            yield {"left" if turn > 0 else "right": _degrees(Fraction(abs(turn))), **rest}
        elif (number, "sweep") in values:
            sweep, radius = math.degrees(abs(values[number, "sweep"])), Fraction(values[number, "radius"])
            yield {verb: _degrees(Fraction(sweep)), "radius": written_length(radius, unit), **rest}
        else:
            yield row


def _moved(start: object, heading: Fraction, by: Fraction, unit: Unit) -> list[object]:
    """A plan position moved on along a heading in degrees by so many mm."""
    along = cos_sin(angle(heading))
    x, y = (parse_length(each, unit) for each in cast("list[str]", start))
    return [written_length(each + by * Fraction(part), unit) for each, part in zip((x, y), along, strict=True)]


# As a person writes it.


def written_length(mm: Fraction, unit: Unit) -> int | str | Decimal:
    """A length as it may stand in a file of that unit, which is read as the same length to a float's last digit."""
    size = mm / parse_length(1, unit)
    if size.denominator == 1:
        return int(size)
    if unit in ("in", "ft") and (mm / parse_length(1, "in") * 64).denominator == 1:
        text = inches(mm, 64, feet=unit == "ft").text.removesuffix('"')
        return text if unit == "in" or "'" in text else f"{text} in"
    return _decimal(size)


def _degrees(turn: Fraction) -> int | str | Decimal:
    """An angle in degrees as it may stand in the file: 30, 22.5 or "12 6/7"."""
    if turn.denominator == 1:
        return int(turn)
    if turn.denominator > 100 or 1000 % turn.denominator == 0:
        return _decimal(turn)
    whole, part = divmod(abs(turn), 1)
    return ("-" if turn < 0 else "") + f"{whole} {part}".removeprefix("0 ")


def _decimal(size: Fraction) -> Decimal:
    """A number that shows four decimals of all that it has."""
    number = Decimal(repr(float(size)))
    short = f"{float(size):.4f}".rstrip("0").rstrip(".")
    if short.strip("-0"):
        number.text = short
    return number
