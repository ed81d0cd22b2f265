"""What the page says: lengths, sizes and figures ready to be read, in plain words."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache

from preview.build import Built
from preview.checks import Meeting
from preview.client.page.container import Record
from preview.joinery import Joint, Piece, piece_lengths
from preview.profiles import measure
from preview.shop import JointForecast
from preview.units import degrees_text, show
from preview.vantage import corner_side

CAUTION = (
    "Measure the site again before cutting, and cut a test corner first. Follow the machines' manuals, local codes and "
    "licensed practice."
)
LENGTH_WORDS = {"back": "wall line", "shortest": "shortest", "longest": "longest", "overall": "overall"}


@lru_cache(4096)
def _shown(mm: float) -> tuple[str, str]:
    """Variants, and a model that is shown again and again while it is edited, say mostly the same lengths."""
    return show(mm, "in"), show(mm, "mm")


def length(mm: float) -> Record:
    """A length in both of the units that a reader may ask for."""
    inches, millimeters = _shown(mm)
    return {"in": inches, "mm": millimeters}


@lru_cache(64)
def places_along(whole: float, step: float) -> dict[str, list[str]]:
    """What stands at every `step` mm of a path, and at its end, in both units."""
    places = [_shown(i * step) for i in range(math.ceil((whole - 1e-6) / step))]
    return dict(zip(("in", "mm"), map(list, zip(*places, _shown(whole), strict=True)), strict=True))


@dataclass(frozen=True)
class Alike:
    """A piece as far as its sizes go: the same for all of one shape on alike elements, whatever model they are of."""

    shape: bytes
    role: str
    element: tuple[float, ...]
    piece: Piece = field(compare=False)

    @classmethod
    def of(cls, piece: Piece, shape: bytes) -> Alike:
        """shape: what tells its points from those of others."""
        e = piece.element
        return cls(shape, piece.role, (round(e.length, 6), round(e.sweep, 9), round(e.slope, 9)), piece)


@lru_cache(4096)
def dimensions(alike: Alike) -> tuple[list[Record], Record]:
    """A piece's sizes as the command prints them, and the one that its label says."""
    piece = alike.piece
    if piece.role == "block":
        size = measure(piece.profile)
        sides = sorted((size.d_max - size.d_min, size.h_max - size.h_min, piece.element.length))
        both = {unit: " by ".join(length(side)[unit] for side in sides) for unit in ("in", "mm")}
        return [{"name": "size", "value": both}], both
    found = piece_lengths(piece)
    told = [{"name": LENGTH_WORDS[name], "value": length(value)} for name, value in found.items()]
    if not piece.curvature:
        return told, length(found["back"])
    radius, turn = length(piece.element.radius), degrees_text(abs(piece.element.sweep))
    told += [{"name": "radius of the wall line", "value": radius}, {"name": "turn", "value": {"in": turn, "mm": turn}}]
    return told, {unit: f"wall radius {radius[unit]}, {turn}" for unit in ("in", "mm")}


def joint_name(joint: Joint) -> str:
    """A joint's name, without the kind that is said beside it."""
    return joint.name if joint.kind == "block" else joint.name.removesuffix(" " + joint.kind)


def turn_text(joint: Joint) -> str:
    """The turn of a corner, in degrees."""
    return f"{math.degrees(abs(joint.turn)):.2f}°" if corner_side(joint) else ""


def joint_figures(measured: Meeting | None, forecast: JointForecast | None) -> list[Record]:
    """What was measured at a joint, and how far it may open on site."""
    if measured is None:
        return []
    told = [{"name": "gap", "value": figure(measured.gap, " mm")}]
    if measured.step is not None:
        told.append({"name": "step", "value": figure(measured.step, " mm")})
    if measured.angle is not None:
        told.append({"name": "angle", "value": figure(measured.angle, "°")})
    if measured.missing:
        told.append({"name": "not measured", "value": measured.missing})
    if forecast is not None:
        told.append({"name": "on site", "value": forecast.line})
    return told


def figure(value: float, unit: str) -> str:
    """A measured figure: three decimals, and what is smaller told as that."""
    if not math.isfinite(value):
        return "none found"
    return f"{value:.3f}{unit}" if value >= 0.0005 else f"under 0.001{unit}"


def forecasts_by_name(built: Built) -> dict[str, JointForecast]:
    """What is reckoned for each joint, by its name."""
    return {each.joint: each for each in built.forecasts}
