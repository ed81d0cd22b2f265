"""The blocks of a run as pieces: plinth blocks in line, and corner blocks."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from preview.joinery.joint import Joint, Passage
from preview.joinery.parts import BlockShape, Part, parts_of
from preview.joinery.piece import MemberRun, Piece, into_room
from preview.profiles import Line, Profile, measure
from preview.runs import Element, Run, Stand, turned


def block_lines(run: Run, blocks: Mapping[str, BlockShape]) -> list[MemberRun]:
    """The blocks that stand along a run, each a line of its own with one piece, whatever the members beside it.

    A block's label, which a member's joints name, is the last part of its piece's name.
    """
    found: list[MemberRun] = []
    for part in parts_of(run, blocks):
        if not part.block:
            continue
        block = blocks[part.block]
        element, section, stand, hand = part.element, block.section.moved(0.0, run.level), run.stand, run.hand
        if part.turn:
            element, section, stand, hand = *_upright(run, part, block), 1
        line = f"{run.name} / {block.name}"
        name = f"{line} / {part.label}"
        begin, end = (
            Joint(f"{name} / {end}", "square end", at, passage, passage, height=high)
            for end, at, tangent, high in (
                ("begin", element.start, element.tangent, element.height),
                ("end", element.end, element.end_tangent, element.end_height),
            )
            for passage in (Passage(tangent, into_room(tangent, hand), hand * element.curvature),)
        )
        piece = Piece(
            name,
            run.name,
            block.name,
            part.index + 1,
            element,
            hand,
            section,
            begin,
            end,
            stand=stand,
            role="block",
        )
        between = ((None, 0), (0, None))
        found.append(MemberRun(line, run, block.name, section, (piece,), (begin, end), between, ("", "")))
    return found


def _upright(run: Run, part: Part, block: BlockShape) -> tuple[Element, Profile, Stand]:
    """A corner block: its outline in the run's plan, carried upright from its foot to its top."""
    size = measure(block.section)
    low, high = (h + run.level + part.element.height for h in (size.h_min, size.h_max))
    at = np.array(part.element.start)
    after = np.array(part.element.tangent)
    before = np.array(turned(part.element.tangent, -run.hand * part.turn))
    out, further = (np.array(into_room((float(t[0]), float(t[1])), run.hand)) for t in (before, after))
    at = at + block.offset * (out + further)
    outline = [at]
    if part.turn > 0:
        outline += [at + block.width * after, at + block.width * (after - before), at - block.width * before]
    else:
        first, last = at - block.lap * before, at + block.lap * after
        if block.lap:
            outline = [last, at, first]
        outline += [first + block.side * out, at + block.side * (out + further), last + block.side * further]
    points = [(float(x), float(y)) for x, y in outline]
    around = sum(a[0] * b[1] - a[1] * b[0] for a, b in zip(points, points[1:] + points[:1], strict=True))
    points = points if around > 0 else points[::-1]
    section = Profile(block.name, tuple(Line(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True)))
    # Carried along the plan's own z, from a plan whose x is that z, and whose y and z are the plan's x and y.
    stand = run.stand
    origin = tuple(o + low * z for o, z in zip(stand.origin, stand.z, strict=True))
    upright = Stand((origin[0], origin[1], origin[2]), stand.z, stand.x, stand.y)
    return Element((0.0, 0.0), (1.0, 0.0), high - low), section, upright
