"""The front: who makes what for whom, which model this is, and the pictures."""

from __future__ import annotations

from reportlab.platypus import Flowable, FrameBreak, NextPageTemplate, Spacer

from preview.drafting import plan_drawing
from preview.errors import PreviewError
from preview.pages import (
    GAP,
    WIDE,
    Captioned,
    Drawn,
    Element,
    Figure,
    Lines,
    Pair,
    Para,
    Picture,
    Rule,
    clean,
    note,
    panel,
    points,
    said,
)
from preview.sheet.figures import printed_image
from preview.sheet.job import Photo
from preview.sheet.making import Making, code_of

LOGO = (52.0, 16.0)
"""mm, the most that a logo takes."""
BETWEEN = 3.5
"""mm between pictures."""
CAPTION = 8.5
"""mm kept for the words under a row of pictures."""
LEAST_FRONT = 58.0
"""mm, the least width of the part with the words."""
SMALL = 3
"""How many pictures stand in the row under the first."""


def front_width(making: Making) -> float:
    """How wide the part with the words is, mm: what the pictures, as large as the page is high, leave."""
    wide, high = making.plan.room
    photos = making.job.photos[: 1 + SMALL]
    if not photos:
        return LEAST_FRONT
    row = max(len(photos) - 1, 0)
    share = photos[0].size[1] / photos[0].size[0]
    small = max((photo.size[1] / photo.size[0] for photo in photos[1:]), default=0.0)
    free = high - CAPTION - (CAPTION + BETWEEN if row else 0.0) - 1.0
    across = free / (share + small / row) if row else free / share
    return max(LEAST_FRONT, wide - GAP - across)


def front(making: Making) -> list[Flowable]:
    """The front page's flow: the title block, then the pictures, or the plan where there are none."""
    return [*_title_block(making), NextPageTemplate(WIDE), FrameBreak(), *_pictures(making)]


def _title_block(making: Making) -> list[Flowable]:
    job, styles = making.job, making.styles
    details, brand = job.scene.job, job.brand
    part = making.root.child("Sect")
    flow: list[Flowable] = []
    if brand.logo is not None:
        flow += _logo(making, part)
    if brand.name:
        flow.append(note(part, brand.name, styles.shop))
    flow += [note(part, line, styles.caption) for line in brand.lines]
    if flow:
        flow.append(Rule(styles.brand, 1.2, 7.0, 10.0))
    flow.append(note(part, "For approval", styles.label))
    title = clean(job.scene.title) or "Molding"
    heading = Para.of(part.child("H1"), said(title), styles.title(len(title)))
    flow += [Spacer(0, 2.0), heading, Spacer(0, 5.0)]
    rows = [
        ("Client", details.client),
        ("Place", details.place),
        ("Job number", details.number),
        ("Drawn by", details.drawn_by),
        ("Revision", details.revision),
        ("Options taken", job.taken),
        ("Date", details.date),
        ("Sheets made", job.made),
    ]
    blank = [label for label, value in rows[:3] if not value.strip()]
    flow += [block for label, value in rows if value.strip() for block in _field(making, part, label, value)]
    if blank:
        flow += [Spacer(0, 4.0), Lines(part, blank, styles, gap=17.0)]
    flow.append(Spacer(0, 8.0))
    flow.append(_model(making, part))
    flow.append(Spacer(0, 5.0))
    flow += [note(part, text, styles.small) for text in _about_scale(making)]
    return flow


def _field(making: Making, part: Element, label: str, value: str) -> list[Flowable]:
    """One line of the title block: what it is in gray, and what it says."""
    wide = points(front_width(making))
    element = part.child("P")
    head = Para.of(element, said(label), making.styles.label)
    body = Para.of(element, said(value), making.styles.value)
    return [Pair(head, body, min(0.33 * wide, 62.0))]


def _model(making: Making, part: Element) -> Flowable:
    """Which model this is: its code, and its digest in full."""
    first, styles = making.first, making.styles
    wide = points(front_width(making))
    digest = first.built.digest
    halves = " ".join(digest[i : i + 8] for i in range(0, len(digest), 8))
    return panel(
        [
            note(part, "Model code", styles.label),
            note(part, code_of(first), styles.code),
            note(part, f"Digest (SHA-256) {halves}", styles.caption),
        ],
        wide,
        styles,
    )


def _about_scale(making: Making) -> list[str]:
    job = making.job
    scales = "Printed at 100 %, profiles are at full size and drawings at the scale written under each."
    told = [f"{scales} Do not measure from pictures."]
    if job.photos and job.rough:
        told.append("The pictures were made quickly and are rough.")
    return told


def _logo(making: Making, part: Element) -> list[Flowable]:
    brand = making.job.brand
    assert brand.logo is not None
    try:
        image = printed_image(brand.logo, points(LOGO[0]), lossless=True)
    except (OSError, ValueError) as error:
        fix = "check the brand file's logo: a PNG or a JPEG"
        raise PreviewError("logo", None, "the logo cannot be printed", fix) from error
    wide, high = image.getSize()
    scale = min(points(LOGO[0]) / wide, points(LOGO[1]) / high)
    figure = Picture(part.child("Figure", f"Logo of {clean(brand.name)}"), image, wide * scale, high * scale)
    figure.hAlign = "LEFT"
    figure.spaceAfter = 5.0
    return [figure]


def _pictures(making: Making) -> list[Flowable]:
    photos = making.job.photos[: 1 + SMALL]
    wide = making.room[0] - points(GAP) - points(front_width(making))
    if not photos:
        return [_plan(making, wide)]
    part = making.root.child("Sect")
    flow: list[Flowable] = [Captioned([captioned(making, part, photos[0], wide)], wide, 0.0, points(BETWEEN))]
    row = photos[1:]
    if row:
        each = (wide - points(BETWEEN) * (len(row) - 1)) / len(row)
        flow.append(Captioned([captioned(making, part, photo, each) for photo in row], each, points(BETWEEN), 0.0))
    return flow


def captioned(making: Making, part: Element, photo: Photo, width: float) -> tuple[Figure, Para]:
    """A picture as wide as that, points, and its name under it."""
    image = printed_image(photo.image, width)
    alt = clean(photo.words) or clean(photo.name) or "A picture of the molding"
    figure = Picture(part.child("Figure", alt), image, width, width * photo.size[1] / photo.size[0])
    caption = note(part, photo.name, making.styles.caption)
    return figure, caption


def _plan(making: Making, wide: float) -> Figure:
    """The plan where there are no pictures."""
    high = making.plan.room[1]
    drawing = plan_drawing(making.built, (wide / points(1.0), high))
    scale = min(1.0, wide / points(drawing.page.width), high / drawing.page.height)
    part = making.root.child("Sect")
    return Drawn(part.child("Figure", drawing.words), drawing.page, scale)
