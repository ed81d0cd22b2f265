"""All the templates that a job needs, each once, with all the pieces that use it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from preview.bench.templates.curves import plan_of, rods_of, side_of
from preview.bench.templates.joints import faced_line, miter_in_plan, miter_laid_flat
from preview.bench.templates.template import TITLES, Template, TemplateLabel, TemplateLine, told
from preview.build import Built
from preview.exports import raked_profiles
from preview.joinery import MemberRun
from preview.profiles import Arc, Edge, Line, measure
from preview.runs import IN_PLAN
from preview.units import Unit

SAME = 1e-6
"""mm within which templates that are one agree."""
BEYOND = 6.0
"""mm that the wall is drawn beyond a raked profile."""


def templates(built: Built) -> tuple[Template, ...]:
    """Every template of a job, numbered; none where there is nothing but plane cuts of straights.

    First the rods of its curved walls, then curved pieces, curved miters, copes, self-returns and raked profiles.
    Templates that agree in every line and word are one, with the pieces of all. Blocks have none.
    """
    unit = built.scene.units
    found: list[Template] = []
    for each in (*_of_runs(built, unit), *_of_pieces(built, unit), *_of_joints(built, unit), *_raked(built, unit)):
        place = next((i for i, other in enumerate(found) if _alike(each, other)), None)
        if place is None:
            found.append(each)
        else:
            same = found[place]
            more = tuple(name for name in each.pieces if name not in same.pieces)
            found[place] = replace(same, pieces=(*same.pieces, *more))
    order = list(TITLES)
    kinds = sorted(found, key=lambda each: order.index(each.kind))
    return tuple(replace(each, number=i) for i, each in enumerate(kinds, 1))


def _of_runs(built: Built, unit: Unit) -> Iterator[Template]:
    for placed in built.scene.runs:
        yield from rods_of(placed.run, unit)


def _of_pieces(built: Built, unit: Unit) -> Iterator[Template]:
    for piece in built.pieces:
        if piece.kind == "curve":
            yield plan_of(piece, unit)
        elif piece.kind == "easement":
            yield side_of(piece, unit)


def _of_joints(built: Built, unit: Unit) -> Iterator[Template]:
    for line in built.lines:
        yield from _curved_miters(line, unit)
        for piece in line.pieces:
            for at_end, joint in ((False, piece.begin), (True, piece.end)):
                if joint.faced is not None:
                    yield faced_line(piece, at_end, joint.faced, joint.kind == "cope", unit)


def _curved_miters(line: MemberRun, unit: Unit) -> Iterator[Template]:
    for joint, (first, second) in zip(line.joints, line.between, strict=True):
        if joint.kind != "curved miter" or first is None or second is None:
            continue
        before, after = line.pieces[first], line.pieces[second]
        yield miter_in_plan(joint, before, after)
        for piece, at_end in ((before, True), (after, False)):
            if not piece.curvature and piece.stand == IN_PLAN:  # a casing lies on its back in its plan
                yield miter_laid_flat(piece, at_end, unit)


def _raked(built: Built, unit: Unit) -> Iterator[Template]:
    for each in raked_profiles(built, drawn=False):
        size = measure(each.profile)
        words = (
            f"{each.profile.name}: {told(size.d_max - size.d_min, unit)} by {told(size.h_max - size.h_min, unit)}.",
            "Seen square to the length of the stick: this is what the cutters have to make. The wall is on the left.",
        )
        outline = TemplateLine("profile", each.profile.edges, each.deviation)
        low, high = size.h_min - BEYOND, size.h_max + BEYOND
        wall = TemplateLine("wall", (Line((0.0, low), (0.0, high)),))
        labels = (
            TemplateLabel("Wall", (0.0, high + 1.6), 3.4),
            TemplateLabel("{sign}", (0.0, low - 6.0), 4.2, bold=True),
        )
        yield Template("raked profile", each.pieces, words, (outline, wall), labels)


def _alike(one: Template, other: Template) -> bool:
    """Whether two templates agree in every word and line."""
    if (one.kind, one.words, len(one.lines)) != (other.kind, other.words, len(other.lines)):
        return False
    pairs = list(zip(one.lines, other.lines, strict=True))
    if any((a.role, len(a.edges)) != (b.role, len(b.edges)) for a, b in pairs):
        return False
    first, second = (np.array([_numbers(edge) for line in each.lines for edge in line.edges]) for each in (one, other))
    return bool(np.allclose(first, second, rtol=0.0, atol=SAME))


def _numbers(edge: Edge) -> tuple[float, ...]:
    """An edge in mm: its ends, and how far it stands off its chord, more or less."""
    rise = edge.length * edge.sweep if isinstance(edge, Arc) else 0.0
    return (*edge.start, *edge.end, rise)
