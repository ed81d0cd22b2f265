"""Two versions laid over each other on one sheet: what changed in words, the plan, corners, profiles and finishes."""

from __future__ import annotations

from preview.build import Built
from preview.changes.compare import changed
from preview.changes.pairs import block_pairs, member_pairs
from preview.changes.parts import looks_of
from preview.changes.plan_drawing import Drawn, plans
from preview.changes.profile_drawing import profile_drawings
from preview.changes.saying import hexadecimal
from preview.changes.sheet import (
    BEFORE_LINE,
    FAINT,
    INK,
    NEW_WOOD,
    NOW_LINE,
    SAME_LINE,
    SAME_WOOD,
    SOFT,
    Line,
    Sheet,
    width_of,
    wrapped,
)

WIDTH, MARGIN = 260.0, 12.0
BETWEEN = 9.0
"""mm between the parts of the sheet."""
TEXT = 3.8
ROOM = WIDTH - 2 * MARGIN
SWATCH = 9.0
CAUTION = (
    "Lengths are those on the wall line. Heights do not show in a plan. Measure the site again before cutting; this "
    "drawing is for comparing, not for taking sizes from."
)


def overlay_svg(before: Built, after: Built) -> bytes:
    """The drawing of what changed, sized in mm; the same two versions give the same bytes. Raises nothing."""
    sentences = changed(before, after)
    parts = [_heading(before, after, sentences), _legend()] if sentences else [_heading(before, after, sentences)]
    if sentences:
        drawn = plans(before, after, ROOM)
        parts += drawn or [_note("The plan is the same in both.")]
        parts += _columns(profile_drawings(member_pairs(before, after), after.scene.units))
        parts += _finishes(before, after)
    parts.append(_note(CAUTION))
    whole = Sheet()
    top = MARGIN
    for part in parts:
        whole.marks += [f'<g transform="translate({MARGIN:g} {top:.3f})">', *part.sheet.marks, "</g>"]
        top += part.height + BETWEEN
    description = ". ".join(sentences) or "Nothing that a client sees or a shop cuts has changed"
    return whole.svg(WIDTH, top - BETWEEN + MARGIN, f"What changed: {after.scene.title}", description)


def _heading(before: Built, after: Built, sentences: tuple[str, ...]) -> Drawn:
    sheet = Sheet()
    top = 6.0
    for text in wrapped(f"What changed: {after.scene.title}", ROOM, 6.4):
        sheet.words(text, (0.0, top), 6.4, INK, bold=True)
        top += 7.6
    said = f"From model {before.digest[:12]}"
    if before.scene.title != after.scene.title:
        said += f" ({before.scene.title})"
    for text in wrapped(f"{said} to model {after.digest[:12]}", ROOM, 3.2):
        sheet.words(text, (0.0, top - 1.4), 3.2, FAINT)
        top += 4.4
    top += 2.6
    for sentence in sentences or ("Nothing that a client sees or a shop cuts has changed",):
        for row, text in enumerate(wrapped(sentence, ROOM - 5.0, TEXT)):
            if not row and sentences:
                sheet.marks.append(f'<circle cx="1.2" cy="{top - 1.3:.3f}" r="0.8" fill="{INK}"/>')
            sheet.words(text, (4.0 if sentences else 0.0, top), TEXT, INK)
            top += 5.2
    return Drawn(sheet, ROOM, top - 5.2 + 1.0)


def _legend() -> Drawn:
    sheet = Sheet()
    left = 0.0
    for line, fill, text in (
        (NOW_LINE, NEW_WOOD, "now"),
        (BEFORE_LINE, "none", "before (dashed)"),
        (SAME_LINE, SAME_WOOD, "the same in both"),
    ):
        sheet.path(f"M{left:g} 0.5H{left + 14:g}V4.5H{left:g}Z", line, fill)
        sheet.words(text, (left + 17.0, 3.8), 3.4, INK)
        left += 17.0 + width_of(text, 3.4) + 9.0
    return Drawn(sheet, ROOM, 5.0)


def _columns(drawn: list[Drawn]) -> list[Drawn]:
    """Drawings two by two."""
    rows: list[Drawn] = []
    for k in range(0, len(drawn), 2):
        pair = drawn[k : k + 2]
        sheet = Sheet()
        for column, part in enumerate(pair):
            sheet.marks += [f'<g transform="translate({column * ROOM / 2:g} 0)">', *part.sheet.marks, "</g>"]
        rows.append(Drawn(sheet, ROOM, max(part.height for part in pair)))
    return rows


def _finishes(before: Built, after: Built) -> list[Drawn]:
    """Finishes of another name or look: a patch of each color."""
    looks = looks_of(member_pairs(before, after), block_pairs(before, after))
    rows = [(name, one, other) for name, one, other in looks if one != other]
    if not rows:
        return []
    sheet = Sheet()
    sheet.words("Finishes", (0.0, 4.0), 4.2, INK, bold=True)
    top = 8.0
    edge = Line(SOFT, 0.25)
    for name, one, other in rows:
        for text in wrapped(name, 50.0, 3.4)[:1]:
            sheet.words(text, (0.0, top + 5.8), 3.4, INK)
        for left, word, finish in ((54.0, "before:", one), (138.0, "now:", other)):
            color = hexadecimal(finish.color)
            sheet.path(f"M{left:g} {top:g}h{2 * SWATCH:g}v{SWATCH:g}h-{2 * SWATCH:g}Z", edge, color)
            text = next(iter(wrapped(f"{word} {finish.name}", 60.0, 3.4)))
            sheet.words(text, (left + 2 * SWATCH + 3.0, top + 4.2), 3.4, INK)
            sheet.words(f"{color}, {finish.kind}", (left + 2 * SWATCH + 3.0, top + 8.2), 3.0, FAINT)
        top += SWATCH + 3.0
    return [Drawn(sheet, ROOM, top - 3.0)]


def _note(text: str) -> Drawn:
    sheet = Sheet()
    lines = wrapped(text, ROOM, 3.2)
    for row, line in enumerate(lines):
        sheet.words(line, (0.0, 3.2 + 4.4 * row), 3.2, FAINT)
    return Drawn(sheet, ROOM, 4.4 * len(lines))
