"""The sheet put together, part by part, in the order in which it is read."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import product

from reportlab.platypus import Flowable, KeepTogether, NextPageTemplate, PageBreak

from preview.drafting import Drawing, corner_drawings, elevation_drawings, plan_drawings, section_drawings
from preview.pages import (
    BETWEEN,
    COLUMNS,
    HEADING,
    UNDER,
    About,
    Captioned,
    Element,
    Item,
    OnOnePage,
    Row,
    Strip,
    Styles,
    clean,
    drawn,
    packed,
    page_area,
    page_height,
    plan_of,
    points,
    shelves,
    written,
)
from preview.sheet.checked import checks
from preview.sheet.choices import options
from preview.sheet.figures import full_size
from preview.sheet.front import SMALL, captioned, front, front_width
from preview.sheet.job import SheetJob
from preview.sheet.making import Making, code_of
from preview.sheet.signing import included, notes, signing
from preview.sheet.tables import members_table, pieces_table, sections_of

BETWEEN_PHOTOS = 6.0
"""mm"""
CORNER_ROOM = (120.0, 100.0)
"""mm, what a corner is drawn in where that takes one page at most."""
TIGHTER = (2, 3)
"""Else so many of them stand side by side, two high."""
SHORT = 0.72
"""What part of a page's height a section is drawn in where that saves a page."""
SMALLER, CORNER_SMALLER = 0.45, 0.12
"""What a drawing of half the scale counts, in pages."""
NEARLY_EMPTY, ALMOST = 0.16, 0.5
"""A page of which drawings fill no more than such a part counts so much more."""
ENOUGH = 0.4
"""What part of a page has to be left under the plan for an elevation to be drawn there."""


def composed(job: SheetJob) -> bytes:
    """The sheet as PDF. Raises ValueError when nothing is shown."""
    if not job.shown:
        raise ValueError("a sheet shows one model at least")
    making = Making(plan_of(job.paper), Styles(job.brand), Element("Document"), job)
    story: list[Flowable] = [
        *front(making),
        PageBreak(),
        *_more_photos(making),
        *_drawings(making),
        NextPageTemplate(COLUMNS),
        PageBreak(),
        *options(making),
        *members_table(making),
        *pieces_table(making),
        *checks(making),
        *_last(making),
    ]
    return written(
        story, making.root, making.plan, points(front_width(making)), _about(making), _strip(making), making.styles
    )


def _last(making: Making) -> list[Flowable]:
    """What is included, the notes and the place to sign: on one page, where they go on one."""
    scope = [*included(making), *notes(making)]
    signed = signing(making)
    heights = [sum(_height(block, making) for block in part) for part in (scope, signed)]
    return [OnOnePage(heights, making.room[1]), *scope, KeepTogether(signed)]


def _height(block: Flowable, making: Making) -> float:
    return float(block.wrap(*making.room_of_column)[1] + block.getSpaceBefore() + block.getSpaceAfter())


def _drawings(making: Making) -> list[Flowable]:
    """The plan and the other drawings, and the profiles at full size."""
    wide, high = making.plan.room
    room = (wide, high - HEADING)
    unit = making.built.scene.units
    sections = [item for each in sections_of(making) for item in full_size(each, unit, room)]
    return [
        *_wide(making, "Drawings", _line_drawings(making, room)),
        *_wide(making, "Profiles at full size", sections),
    ]


def _line_drawings(making: Making, room: tuple[float, float]) -> list[Item]:
    """The drawings that the sheet shows, of such sizes that they share pages: plans, elevations, sections, corners.

    Of full and of smaller sizes those are taken together that are the best to read: each page more, each that is nearly
    empty, and each drawing of half its scale counts against them.
    """
    built = making.built
    wide, high = room
    half = (high - UNDER) / 2
    on_front = not making.job.photos
    # The front's own plan, where it has one, is the first; a job of one run has no other.
    plans = plan_drawings(built, room) if built.scene.runs[1:] or not on_front else []
    smaller_plans = _eased(plans, plan_drawings(built, (wide, half)), half) if plans[1:] else plans
    plans, smaller_plans = (plans[1:], smaller_plans[1:]) if on_front else (plans, smaller_plans)
    elevations = elevation_drawings(built, room)
    under_plan = high - sum(each.page.height + UNDER for each in plans)
    heights = [half] if built.scene.runs[1:] or under_plan < ENOUGH * high or not plans else [half, under_plan]
    smaller_elevations = [
        _eased(elevations, elevation_drawings(built, (wide, left)), left)
        for left in heights
        if any(each.page.height > left for each in elevations)
    ]
    # A section of one member says no more than its profile.
    layered = any(len(placed.members) > 1 for placed in built.scene.runs)
    sections = section_drawings(built, room) if layered else []
    smaller_sections = _eased(sections, section_drawings(built, (wide, SHORT * high)), SHORT * high) if layered else []
    corners = corner_drawings(built, CORNER_ROOM)
    full = [*plans, *elevations, *sections, *corners]
    best: tuple[float, list[Item]] | None = None
    for space in (CORNER_ROOM, *(((wide - BETWEEN * (count - 1)) / count, half) for count in TIGHTER)):
        tight = corners if space == CORNER_ROOM else corner_drawings(built, space)
        for chosen in product(
            _sizes(plans, smaller_plans), _sizes(elevations, *smaller_elevations), _sizes(sections, smaller_sections)
        ):
            drawings = [drawing for part in chosen for drawing in part]
            items = [drawn(each, room) for each in drawings] + [drawn(each, room, series=True) for each in tight]
            cost = _cost([*drawings, *tight], full, packed(items, room) if items else [], room)
            if best is None or cost < best[0] - 1e-9:
                best = (cost, items)
        if best is not None and best[0] <= _least(full, room):
            break
    return best[1] if best else []


def _sizes(drawings: list[Drawing], *smaller: list[Drawing]) -> list[list[Drawing]]:
    """The sizes that there are of the same drawings."""
    return [drawings, *(each for each in smaller if each != drawings)]


def _cost(
    drawings: Sequence[Drawing], full: Sequence[Drawing], pages: list[list[Row]], room: tuple[float, float]
) -> float:
    """How badly drawings stand on their pages: pages, nearly empty ones again, and what is smaller than in full."""
    empty = sum(page_area(page) < NEARLY_EMPTY * room[0] * room[1] for page in pages)
    smaller = 0.0
    for drawing, other in zip(drawings, full, strict=True):
        weight = CORNER_SMALLER if drawing.key.startswith("corner") else SMALLER
        smaller += weight * max(math.log2(_ratio(drawing) / _ratio(other)), 0.0)
    return len(pages) + ALMOST * empty + smaller


def _least(full: Sequence[Drawing], room: tuple[float, float]) -> float:
    """Fewer pages than this no drawings take."""
    area = sum(drawing.page.width * drawing.page.height for drawing in full)
    return float(math.ceil(area / (room[0] * room[1])))


def _eased(drawings: list[Drawing], smaller: list[Drawing], high: float) -> list[Drawing]:
    """Of each drawing the smaller one, where that fits a height, says all, and is still of half the size."""
    if len(smaller) != len(drawings):
        return drawings
    found = []
    for drawing, other in zip(drawings, smaller, strict=True):
        fits = other.page.height <= high and len(other.left_out) <= len(drawing.left_out)
        found.append(other if fits and _ratio(other) <= 2.0 * _ratio(drawing) + 1e-9 else drawing)
    return found


def _ratio(drawing: Drawing) -> float:
    """How many times larger the job is than its drawing, as its scale says."""
    found = re.search(r"(\d+):(\d+)\)?$", drawing.scale)
    return int(found[2]) / int(found[1]) if found else 1.0


def _wide(making: Making, title: str, items: Sequence[Item]) -> list[Flowable]:
    """A part across the whole width, on pages of its own, or under what leaves it room."""
    if not items:
        return []
    wide, high = making.plan.room
    pages = packed(items, (wide, high - HEADING))
    needs = page_height(pages[0]) + HEADING - 0.5
    part, flow = making.section(title, room=needs)
    for number, page in enumerate(pages):
        flow += [*([PageBreak()] if number else []), *shelves(part, page)]
    return flow


def _more_photos(making: Making) -> list[Flowable]:
    """The pictures that the front page has no room for."""
    photos = making.job.photos[1 + SMALL :]
    if not photos:
        return []
    wide, high = making.room
    part, head = making.section("More pictures")
    gap = points(BETWEEN_PHOTOS)
    each = min((wide - gap) / 2, *((high / 2 - points(14.0)) * photo.size[0] / photo.size[1] for photo in photos))
    flow: list[Flowable] = [*head]
    for at in range(0, len(photos), 2):
        pair = photos[at : at + 2]
        flow.append(Captioned([captioned(making, part, photo, each) for photo in pair], each, gap, gap))
    return flow


def _about(making: Making) -> About:
    job = making.job
    code = code_of(making.first)
    codes = [code_of(each) for each in job.shown]
    return About(
        clean(job.scene.title) or "Molding",
        clean(job.brand.name),
        f"For approval: model {code}",
        ", ".join(["molding", "approval", *codes]),
    )


def _strip(making: Making) -> Strip:
    job, details = making.job, making.job.scene.job
    made = clean(job.made)

    def row(*texts: str) -> str:
        return ", ".join(text for text in texts if text)

    def after(word: str, text: str) -> str:
        return f"{word} {clean(text)}" if text.strip() else ""

    shop = (clean(job.brand.name), clean(job.brand.lines[0]) if job.brand.lines else "")
    which = row(after("Job", details.number), after("revision", details.revision))
    who = row(after("drawn by", details.drawn_by), after("dated", details.date))
    cells = [
        (0.19, *shop),
        (0.33, clean(job.scene.title), row(clean(details.client), clean(details.place))),
        (0.2, *((which, who) if which else (who, ""))),
        (0.19, f"Model {code_of(making.first)}", row(after("sheets made", made), f"digest {making.built.digest[:12]}")),
    ]
    return Strip(tuple(cell for cell in cells if cell[1] or cell[2]), clean(job.brand.footer))
