"""From loose edges to the one outline: ends paired, small gaps closed, and every doubt asked about."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from preview.drawings.joints import ROUNDING, joined_up
from preview.drawings.sheet import Frame, layer_said
from preview.errors import PreviewError
from preview.profiles import Edge, Point
from preview.units import Unit, counted, show

MOST_AT_A_POINT = 50
"""Ends of edges that may lie within one gap of each other."""
LISTED = 8
"""Things that a message lists before it says how many more there are."""


@dataclass(frozen=True)
class Stroke:
    """An edge in mm and the layer it lies on."""

    edge: Edge
    layer: str


@dataclass(frozen=True)
class Loop:
    """A closed chain of strokes, each running on from the one before; the last meets the first."""

    strokes: tuple[Stroke, ...]

    @property
    def layers(self) -> tuple[str, ...]:
        """The layers it lies on."""
        return tuple(sorted({stroke.layer for stroke in self.strokes}))

    @property
    def box(self) -> tuple[float, float, float, float]:
        """The exact box round it, mm."""
        boxes = np.array([stroke.edge.bounds for stroke in self.strokes])
        low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))

    def said(self, unit: Unit) -> str:
        """The loop as an error speaks of it: its layer and its size."""
        x0, y0, x1, y1 = self.box
        where = " and ".join(layer_said(layer) for layer in self.layers[:LISTED])
        return f"{show(x1 - x0, unit)} wide and {show(y1 - y0, unit)} high on {where}"


def one_outline(strokes: Iterable[Stroke], heal: float, frame: Frame, unit: Unit) -> tuple[list[Edge], list[str]]:
    """The one closed outline that the strokes make, its ends meeting exactly; and notes on what was put right.

    Raises PreviewError when nothing has a length, when edges fork, when ends stay open, and when there is more
    than one loop.
    """
    notes: list[str] = []
    sound = _sound(list(strokes), frame, notes)
    partner = _paired(sound, heal, frame)
    loops, open_ends = _chained(sound, partner)
    if open_ends:
        raise _open(sound, open_ends, loops, frame, unit)
    if len(loops) > 1:
        raise _several(loops, unit)
    edges, gaps = joined_up([stroke.edge for stroke in loops[0].strokes])
    if gaps:
        told = [f"{gap:.3g} mm at {frame.spot(at)}" for at, gap in gaps[:LISTED]]
        more = f", and {len(gaps) - LISTED} more" if len(gaps) > LISTED else ""
        notes.append(f"closed {counted(len(gaps), 'gap')}: {'; '.join(told)}{more}")
    return edges, notes


def _sound(strokes: list[Stroke], frame: Frame, notes: list[str]) -> list[Stroke]:
    """The strokes that have a length, each once."""
    long = [stroke for stroke in strokes if stroke.edge.length > ROUNDING]
    short = len(strokes) - len(long)
    if not long:
        what = f"the drawing has {counted(short, 'edge')}, and none has a length" if short else "nothing is drawn here"
        raise PreviewError("", None, what, "draw the outline of the profile, once round")
    if short:
        first = next(stroke.edge.start for stroke in strokes if stroke.edge.length <= ROUNDING)
        notes.append(f"left out {counted(short, 'edge')} of no length, the first at {frame.spot(first)}")
    kept: dict[tuple[object, ...], Stroke] = {}
    for stroke in long:
        edge = stroke.edge
        ends = sorted(_rounded(p) for p in (edge.start, edge.end))
        kept.setdefault((*ends, _rounded(edge.point(np.array([0.5]))[0].tolist())), stroke)
    if len(kept) < len(long):
        notes.append(f"left out {counted(len(long) - len(kept), 'edge')} drawn a second time over another")
    return list(kept.values())


def _rounded(at: Sequence[float]) -> Point:
    return (round(at[0], 5) + 0.0, round(at[1], 5) + 0.0)


def _paired(strokes: Sequence[Stroke], heal: float, frame: Frame) -> list[int | None]:
    """For each end (2 i: the start of stroke i, 2 i + 1: its end) the end that it meets, the nearest first."""
    ends = [at for stroke in strokes for at in (stroke.edge.start, stroke.edge.end)]
    reach = max(heal, ROUNDING)
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)
    for i, (x, y) in enumerate(ends):
        cells[(math.floor(x / reach), math.floor(y / reach))].append(i)
    close: list[tuple[float, int, int]] = []
    for (cx, cy), here in cells.items():
        if len(here) > MOST_AT_A_POINT:
            raise _forked(len(here), ends[here[0]], frame)
        around = [j for dx in (-1, 0, 1) for dy in (-1, 0, 1) for j in cells.get((cx + dx, cy + dy), ())]
        for i in here:
            close += [(gap, i, j) for j in around if j > i and (gap := math.dist(ends[i], ends[j])) <= reach]
    partner: list[int | None] = [None] * len(ends)
    meeting: dict[int, int] = defaultdict(int)
    for gap, i, j in sorted(close):
        if i // 2 == j // 2 and strokes[i // 2].edge.length < 10 * gap + 10 * ROUNDING:
            continue  # a short edge does not close on itself
        if gap <= ROUNDING:
            for end in (i, j):
                meeting[end] += 1
                if meeting[end] > 1:
                    count = sum(math.dist(ends[end], other) <= 2 * ROUNDING for other in ends)
                    raise _forked(count, ends[end], frame)
        if partner[i] is None and partner[j] is None:
            partner[i], partner[j] = j, i
    return partner


def _chained(strokes: Sequence[Stroke], partner: Sequence[int | None]) -> tuple[list[Loop], list[int]]:
    """The closed loops, and the ends that meet no other."""
    open_ends = [end for end, other in enumerate(partner) if other is None]
    done = [False] * len(strokes)
    for end in open_ends:  # walk the open chains away, so that what is left closes
        at: int | None = end
        while at is not None and not done[at // 2]:
            done[at // 2] = True
            at = partner[at ^ 1]
    loops: list[Loop] = []
    for first in range(len(strokes)):
        chain: list[Stroke] = []
        enter = 2 * first
        while not done[enter // 2]:
            done[enter // 2] = True
            stroke = strokes[enter // 2]
            chain.append(Stroke(stroke.edge.reversed(), stroke.layer) if enter % 2 else stroke)
            onward = partner[enter ^ 1]
            assert onward is not None
            enter = onward
        if chain:
            loops.append(Loop(tuple(chain)))
    return loops, open_ends


def _forked(count: int, at: Point, frame: Frame) -> PreviewError:
    return PreviewError(
        "",
        None,
        f"{count} ends of edges meet at {frame.spot(at)}, so which way the outline goes on there is not told",
        "draw the outline alone on a layer, and name it with layer",
    )


def _open(
    strokes: Sequence[Stroke], open_ends: Sequence[int], loops: Sequence[Loop], frame: Frame, unit: Unit
) -> PreviewError:
    """The error that names the two nearest open ends."""
    ends = [strokes[i // 2].edge.end if i % 2 else strokes[i // 2].edge.start for i in open_ends[:2000]]
    at = np.array(ends)
    best = (math.inf, 0, 1)
    for i in range(len(at) - 1):
        apart = np.hypot(*(at[i + 1 :] - at[i]).T)
        j = int(apart.argmin())
        best = min(best, (float(apart[j]), i, i + 1 + j))
    gap, i, j = best
    layers = sorted({strokes[open_ends[k] // 2].layer for k in (i, j)})
    clear = sorted(
        {loop.layers[0] for loop in loops if len(loop.layers) == 1} - {s.layer for s in _open_ones(strokes, open_ends)}
    )
    fix = "draw the edges on until they meet"
    if len(clear) == 1:
        fix += f", or if the outline is the loop on {layer_said(clear[0])}, name that layer"
    elif len({stroke.layer for stroke in strokes}) > 1:
        fix += ", or name the layer that holds the outline alone"
    width = f"{gap:.3g} mm" if gap < 1 else show(gap, unit)
    return PreviewError(
        "",
        None,
        f"the outline is open: the two nearest open ends are at {frame.spot(ends[i])} and at {frame.spot(ends[j])}, "
        f"{width} apart, on {' and '.join(layer_said(layer) for layer in layers)}",
        fix,
    )


def _open_ones(strokes: Sequence[Stroke], open_ends: Sequence[int]) -> list[Stroke]:
    return [strokes[i // 2] for i in open_ends]


def _several(loops: Sequence[Loop], unit: Unit) -> PreviewError:
    """The error for more than one loop: a hole, or a choice to make."""
    by_size = sorted(loops, key=lambda loop: (loop.box[0] - loop.box[2]) * (loop.box[3] - loop.box[1]))
    told = "; ".join(loop.said(unit) for loop in by_size[:LISTED])
    more = f"; and {len(loops) - LISTED} more" if len(loops) > LISTED else ""
    outer, rest = by_size[0], by_size[1:]
    layers = {loop.layers for loop in loops}
    if len(layers) == 1 and all(_inside(loop, outer) for loop in rest):
        return PreviewError(
            "",
            None,
            f"the outline has {counted(len(rest), 'loop')} inside it, and a molding is one piece of wood without "
            f"holes: {told}{more}",
            "leave the inner loops out, or draw them on another layer and name the outline's with layer",
        )
    fix = "name the layer that holds the outline" if len(layers) > 1 else "put the outline on a layer of its own"
    return PreviewError(
        "layer",
        None,
        f"the drawing has {len(loops)} closed loops: {told}{more}",
        f"{fix}, alone, and name it with layer" if len(layers) == 1 else f"{fix}, with layer",
    )


def _inside(inner: Loop, outer: Loop) -> bool:
    (ax0, ay0, ax1, ay1), (bx0, by0, bx1, by1) = inner.box, outer.box
    return bx0 <= ax0 and by0 <= ay0 and ax1 <= bx1 and ay1 <= by1
