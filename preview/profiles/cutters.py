"""Cutters: the section that each takes out of the wood, in the frame of the face it works from.

arris                        s = along the face, in from the reference (mm)
  0--------------> s         z = down into the wood, square to the face (mm)
  |  face    \\___/          A section is open above the face: it goes on PROUD of it, where no wood is.
  v z        section
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import ClassVar

from preview.errors import PreviewError
from preview.profiles.edges import FLATTEST, Arc, Edge, Line
from preview.profiles.pens import Point
from preview.profiles.placement import PROUD, placed
from preview.profiles.profile import Profile
from preview.profiles.regions import Region, region, union
from preview.units import Unit, show


@dataclass(frozen=True)
class Roundover:
    """Rounds an arris: a quarter round of `radius`; `step` down into the face and `inset` leave fillets."""

    radius: float
    step: float = 0.0
    inset: float = 0.0
    word: ClassVar[str] = "roundover"
    arris: ClassVar[float | None] = 0.0
    only_arris: ClassVar[bool] = True

    def section(self) -> Region:
        """The section, s from the arris."""
        r, s, z = self.radius, self.inset, self.step
        return _at_arris([Arc((s + r, z), (s, z + r), (s + r, z + r), -math.pi / 2)])


@dataclass(frozen=True)
class Cove:
    """Hollows an arris: a quarter hollow of `radius` about it, `step` down into the face and `inset` from the side."""

    radius: float
    step: float = 0.0
    inset: float = 0.0
    word: ClassVar[str] = "cove"
    arris: ClassVar[float | None] = 0.0
    only_arris: ClassVar[bool] = True

    def section(self) -> Region:
        """The section, s from the arris."""
        r, s, z = self.radius, self.inset, self.step
        return _at_arris([Arc((s + r, z), (s, z + r), (s, z), math.pi / 2)])


@dataclass(frozen=True)
class Chamfer:
    """Slopes an arris off: `size` along the face, at `angle` (radians) to it."""

    size: float
    angle: float = math.pi / 4
    step: float = 0.0
    inset: float = 0.0
    word: ClassVar[str] = "chamfer"
    arris: ClassVar[float | None] = 0.0
    only_arris: ClassVar[bool] = True

    def section(self) -> Region:
        """The section, s from the arris."""
        deep = self.size if self.angle == math.pi / 4 else self.size * math.tan(self.angle)
        return _at_arris([Line((self.inset + self.size, self.step), (self.inset, self.step + deep))])


@dataclass(frozen=True)
class Ogee:
    """Two quarter circles at an arris: the hollow by the face and the round by the side; `reverse` swaps them."""

    round: float
    hollow: float
    reverse: bool = False
    step: float = 0.0
    inset: float = 0.0
    word: ClassVar[str] = "ogee"
    arris: ClassVar[float | None] = 0.0
    only_arris: ClassVar[bool] = True

    def section(self) -> Region:
        """The section, s from the arris."""
        r, c, s, z = self.round, self.hollow, self.inset, self.step
        first, last = (s + r + c, z), (s, z + r + c)
        if self.reverse:
            meet = (s + c, z + r)
            return _at_arris(
                [
                    Arc(first, meet, (s + c + r, z + r), -math.pi / 2),
                    Arc(meet, last, (s, z + r), math.pi / 2),
                ]
            )
        meet = (s + r, z + c)
        return _at_arris(
            [
                Arc(first, meet, (s + r, z), math.pi / 2),
                Arc(meet, last, (s + r, z + c + r), -math.pi / 2),
            ]
        )


@dataclass(frozen=True)
class CoreBox:
    """A round-bottomed groove of `radius`, `depth` deep; deeper than its radius its sides run on straight."""

    radius: float
    depth: float
    word: ClassVar[str] = "core box"
    arris: ClassVar[float | None] = None
    only_arris: ClassVar[bool] = False

    def section(self) -> Region:
        """The section, s from the cutter's axis."""
        r, level = self.radius, self.depth - self.radius
        top = min(-PROUD, level - PROUD)
        return region(
            [
                Arc((-r, level), (r, level), (0.0, level), -math.pi),
                *_path([(r, level), (r, top), (-r, top), (-r, level)]),
            ]
        )


@dataclass(frozen=True)
class Vee:
    """A V groove of the included `angle` (radians), `depth` deep."""

    angle: float
    depth: float
    word: ClassVar[str] = "V"
    arris: ClassVar[float | None] = None
    only_arris: ClassVar[bool] = False

    def section(self) -> Region:
        """The section, s from the cutter's axis."""
        slope = 1.0 if self.angle == math.pi / 2 else math.tan(self.angle / 2)
        wide = slope * (self.depth + PROUD)
        return region(_path([(0.0, self.depth), (wide, -PROUD), (-wide, -PROUD), (0.0, self.depth)]))


@dataclass(frozen=True)
class Bead:
    """A bead of `radius` whose crown stays level with the face, a quirk of width `quirk` on either side of it.

    `depth` is how deep the quirks go: the radius, for a full half round, unless given. At an arris the bead
    lies against the other face, and one quirk falls outside the wood.
    """

    radius: float
    quirk: float
    depth: float | None = None
    word: ClassVar[str] = "bead"
    only_arris: ClassVar[bool] = False

    @property
    def arris(self) -> float | None:
        """How far the middle of the bead is from the arris it lies against."""
        return self._half

    @property
    def _half(self) -> float:
        """Half the width of the bead at its foot."""
        deep = self.radius if self.depth is None else min(self.depth, self.radius)
        return self.radius if deep == self.radius else math.sqrt(deep * (2 * self.radius - deep))

    def section(self) -> Region:
        """The section, s from the middle of the bead."""
        r = self.radius
        deep = r if self.depth is None else self.depth
        half, foot = self._half, min(deep, r)
        sweep = math.pi if deep >= r else 2 * math.asin(half / r)
        edge = half + self.quirk
        left = _path([(-edge, -PROUD), (-edge, deep), (-half, deep), (-half, foot)])
        right = _path([(half, foot), (half, deep), (edge, deep), (edge, -PROUD), (-edge, -PROUD)])
        return region([*left, Arc((-half, foot), (half, foot), (0.0, r), sweep), *right])


@dataclass(frozen=True)
class Straight:
    """A square groove of `width` and `depth`; at an arris, a rabbet of that width along the face."""

    width: float
    depth: float
    word: ClassVar[str] = "straight"
    only_arris: ClassVar[bool] = False

    @property
    def arris(self) -> float | None:
        """How far the middle of the cutter is from the arris it works at."""
        return self.width / 2

    def section(self) -> Region:
        """The section, s from the middle of the cutter."""
        half = self.width / 2
        return region(
            _path([(-half, self.depth), (half, self.depth), (half, -PROUD), (-half, -PROUD), (-half, self.depth)])
        )


@dataclass(frozen=True)
class Drawn:
    """A cutter drawn as half its section: a profile whose back is the cutter's axis and whose foot is its tip."""

    half: Profile
    depth: float
    word: ClassVar[str] = "drawn cutter"
    arris: ClassVar[float | None] = None
    only_arris: ClassVar[bool] = False

    def section(self) -> Region:
        """The section, s from the cutter's axis; straight up to the face where the drawing stops short of it."""
        right = placed(self.half.edges, lambda at: (at[0], self.depth - at[1]), mirrors=True)
        left = placed(self.half.edges, lambda at: (-at[0], self.depth - at[1]), mirrors=False)
        boxes = [edge.bounds for edge in self.half.edges]
        top = max(box[3] for box in boxes)
        shank = [d for edge in self.half.edges for d, h in (edge.start, edge.end) if h >= top - 1e-9]
        whole = union(region(right), region(left))
        level, wide = self.depth - top, max(shank)
        if level > -PROUD and wide > 0.0:
            corners = [(-wide, level), (wide, level), (wide, -PROUD), (-wide, -PROUD), (-wide, level)]
            whole = union(whole, region(_path(corners)))
        return whole


Cutter = Roundover | Cove | Chamfer | Ogee | CoreBox | Vee | Bead | Straight | Drawn


def reach(cutter: Cutter) -> float:
    """How far, mm, the cutter goes down from the face it works from."""
    return max(edge.bounds[3] for edge in cutter.section().edges)


def check_cutter(cutter: Cutter, unit: Unit = "mm") -> None:
    """Refuse a cutter of no size. Raises PreviewError; its place is the name of a field."""
    for field in fields(cutter):
        value = getattr(cutter, field.name)
        if not isinstance(value, float | int) or isinstance(value, bool):
            continue
        if not math.isfinite(value):
            raise PreviewError(field.name, None, f"the {field.name} is {value}, which is no length", "give it a length")
        if field.name == "angle":
            _check_angle(cutter, value)
        elif field.name in ("step", "inset", "quirk"):
            if value < 0.0:
                raise PreviewError(
                    field.name,
                    None,
                    f"the {field.name} is {show(value, unit)}, less than 0",
                    "give 0 or more",
                )
            if 0.0 < value < 1e-3 or (field.name == "quirk" and value == 0.0 and _sunk(cutter)):
                raise PreviewError(
                    field.name,
                    None,
                    f"the {field.name} is {value:.2g} mm, too narrow to cut",
                    f"give a wider {field.name}" if _sunk(cutter) else f"leave the {field.name} out, or make it wider",
                )
        elif value < 1e-3:
            raise PreviewError(
                field.name,
                None,
                f"the {field.name} is {show(value, unit)}, which cuts nothing",
                f"give a {field.name} above 0",
            )
        if value > FLATTEST / 100:
            raise PreviewError(
                field.name, None, f"the {field.name} is {show(value, unit)}, which is no cutter", "check its unit"
            )


def _sunk(cutter: Cutter) -> bool:
    """Whether a cutter is a bead whose quirks go deeper than its half round, and so must have a width."""
    return isinstance(cutter, Bead) and (cutter.depth or 0.0) > cutter.radius


def _check_angle(cutter: Cutter, angle: float) -> None:
    most = math.pi if isinstance(cutter, Vee) else math.pi / 2
    least = math.radians(1)
    if not least <= angle <= most - least:
        said = f"{math.degrees(angle):.6g}°"
        measured = "between the sides of the V" if isinstance(cutter, Vee) else "from the face"
        raise PreviewError(
            "angle",
            None,
            f"the angle is {said}, measured {measured}",
            f"give an angle from 1° to {math.degrees(most) - 1:.0f}°",
        )


def _path(points: Sequence[Point]) -> list[Edge]:
    """Lines from point to point, those of no length left out."""
    return [Line(a, b) for a, b in pairwise(points) if math.dist(a, b) > 1e-9]


def _at_arris(curve: Sequence[Edge]) -> Region:
    """What a curve cuts off an arris at (0, 0): all between it and the two faces, PROUD of both."""
    (s0, z0), (s1, z1) = curve[0].start, curve[-1].end
    return region([*curve, *_path([(s1, z1), (-PROUD, z1), (-PROUD, -PROUD), (s0, -PROUD), (s0, z0)])])
