"""All drawings of a job, in the order in which one reads them: plans, elevations, sections, corners."""

from __future__ import annotations

from dataclasses import replace

from preview.build import Built
from preview.drafting.drawing import ROOM, Drawing
from preview.drafting.elevation import elevation_drawings
from preview.drafting.isometric import CORNER_ROOM, corner_drawings
from preview.drafting.plan import plan_drawings
from preview.drafting.section import section_drawings


def drawings_of(
    built: Built, room: tuple[float, float] = ROOM, corner_room: tuple[float, float] = CORNER_ROOM
) -> list[Drawing]:
    """Every drawing of a job, each fitted to a room (width, height) on paper, mm; no two have one key."""
    found = [
        *plan_drawings(built, room),
        *elevation_drawings(built, room),
        *section_drawings(built, room),
        *corner_drawings(built, corner_room),
    ]
    taken: dict[str, int] = {}
    for i, drawing in enumerate(found):
        taken[drawing.key] = taken.get(drawing.key, 0) + 1
        if taken[drawing.key] > 1:
            found[i] = replace(drawing, key=f"{drawing.key}-{taken[drawing.key]}")
    return found
