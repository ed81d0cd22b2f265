"""Paints pages of marks: SVG (arcs as arcs, text as outlines), PDF (text as text, its type embedded), PNG.

The PNG is our own PDF put through PDFium, so that no two kinds of drawing can differ.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from html import escape
from typing import TYPE_CHECKING, Any

from preview.paper.lettering import font_file, letter_paths
from preview.paper.marks import WHITE, Clipped, Mark, Page, Trace, Words
from preview.profiles import Arc, Edge, Point

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

POINT = 72 / 25.4
"""Points of a PDF in a mm."""
STRAY = 5e-5
"""mm that a Bezier curve may stray from the arc it stands for; half of what is promised."""
LONGEST_SWEEP = math.pi / 2 + 1e-9
"""Longer arcs are written in parts: from its ends alone the center of a half circle is ill found."""
LARGEST_PICTURE = 4000
"""Pixels on the longer side."""


def svg_bytes(page: Page, title: str, description: str) -> bytes:
    """A page as SVG, sized in mm, one unit of its own to the mm."""
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(page.width)}mm" height="{number(page.height)}mm"',
        f' viewBox="0 0 {number(page.width)} {number(page.height)}" role="img" stroke-linejoin="round">',
        f"<title>{_xml(title)}</title>",
        f"<desc>{_xml(description)}</desc>",
        f'<rect width="{number(page.width)}" height="{number(page.height)}" fill="{WHITE}"/>',
    ]
    for mark_number, mark in enumerate(page.marks):
        if isinstance(mark, Clipped):
            left, low, right, high = mark.box
            box = f'x="{number(left)}" y="{number(page.height - high)}"'
            box += f' width="{number(right - left)}" height="{number(high - low)}"'
            lines.append(f'<clipPath id="window-{mark_number}"><rect {box}/></clipPath>')
            lines.append(f'<g clip-path="url(#window-{mark_number})">')
            lines += [*(_svg_mark(inside, page.height) for inside in mark.marks), "</g>"]
        else:
            lines.append(_svg_mark(mark, page.height))
    return ("\n".join([*lines, "</svg>"]) + "\n").encode("utf-8")


def svg_path(edges: Sequence[Edge], height: float = 0.0, places: int = 4) -> str:
    """Lines and arcs as SVG path data: y is down, from `height`."""

    def spot(at: Point) -> str:
        return f"{number(at[0], places)} {number(height - at[1], places)}"

    words: list[str] = []
    begun: Point | None = None
    here: Point | None = None
    for edge in edges:
        if edge.start != here:
            words.append("M" + spot(edge.start))
            begun = edge.start
        if isinstance(edge, Arc):
            turn = "0" if edge.sweep > 0 else "1"  # with y down a counter-clockwise arc has the flag 0
            radius = number(edge.radius, places)
            words += [f"A{radius} {radius} 0 0 {turn} {spot(part.end)}" for part in parts(edge, LONGEST_SWEEP)]
        elif edge.end != begun:
            words.append("L" + spot(edge.end))
        if edge.end == begun:
            words.append("Z")
        here = edge.end
    return " ".join(words)


def parts(arc: Arc, longest: float) -> list[Arc]:
    """An arc in equal parts that sweep no more than `longest`; its ends stay bit for bit."""
    count = math.ceil(abs(arc.sweep) / longest)
    points = [(float(x), float(y)) for x, y in arc.point([i / count for i in range(count + 1)])]
    return [Arc(points[i], points[i + 1], arc.center, arc.sweep / count) for i in range(count)]


def pdf_bytes(pages: Sequence[Page], title: str, subject: str) -> bytes:
    """Pages as PDF, to be printed without scaling. The same pages give the same bytes."""
    from reportlab.pdfgen.canvas import Canvas

    written = io.BytesIO()
    canvas = Canvas(written, invariant=1)
    canvas.setTitle(title)
    canvas.setSubject(subject)
    canvas.setAuthor("molding-preview")
    canvas.setCreator("molding-preview")
    canvas.setViewerPreference("PrintScaling", "None")
    for page in pages:
        canvas.setPageSize((page.width * POINT, page.height * POINT))
        paint_page(canvas, page)
        canvas.showPage()
    canvas.save()
    return written.getvalue()


def paint_page(canvas: Canvas, page: Page, across: float = 0.0, up: float = 0.0, scale: float = 1.0) -> None:
    """Paint a page of marks on a reportlab canvas, its lower left corner at (across, up), mm from the canvas's own."""
    canvas.saveState()
    if (across, up, scale) != (0.0, 0.0, 1.0):
        canvas.transform(scale, 0.0, 0.0, scale, across * POINT, up * POINT)
    canvas.setLineJoin(1)
    for mark in page.marks:
        if isinstance(mark, Clipped):
            canvas.saveState()
            left, low, right, high = (value * POINT for value in mark.box)
            window = canvas.beginPath()
            window.rect(left, low, right - left, high - low)
            canvas.clipPath(window, stroke=0, fill=0)
            for inside in mark.marks:
                _pdf_mark(canvas, inside)
            canvas.restoreState()
        else:
            _pdf_mark(canvas, mark)
    canvas.restoreState()


def pdf_type(bold: bool) -> str:
    """The name under which reportlab knows the type; it is embedded wherever it is used."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    name = font_file(bold).stem
    if name not in pdfmetrics.getRegisteredFontNames():
        pdfmetrics.registerFont(TTFont(name, str(font_file(bold))))
    return name


def png_bytes(page: Page, across: int = 1600) -> bytes:
    """A page as a PNG, `across` pixels wide, less where it would be more than 4000 high."""
    import pypdfium2
    from PIL import Image

    document = pypdfium2.PdfDocument(pdf_bytes([page], "", ""))
    try:
        pixels = min(across / page.width, LARGEST_PICTURE / page.height)
        picture = document[0].render(scale=pixels / POINT).to_pil().convert("RGB")
    finally:
        document.close()
    written = io.BytesIO()
    # A drawing has few colors; a palette of them halves the file and shows no difference.
    few = picture.quantize(64, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    few.save(written, "PNG", optimize=True, dpi=(pixels * 25.4, pixels * 25.4))
    return written.getvalue()


def number(value: float, places: int = 4) -> str:
    """A number with at most so many decimals, and no idle zeros.

    >>> number(12.50004), number(-1e-9), number(1 / 3, 12)
    ('12.5', '0', '0.333333333333')
    """
    text = f"{value:.{places}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def curves(arc: Arc) -> Iterator[tuple[Point, Point, Point]]:
    """An arc as cubic Bezier curves: two handles and an end each, within 1e-4 mm of it."""
    longest = math.pi / 2
    while arc.radius * 4 / 27 * math.sin(longest / 4) ** 6 / math.cos(longest / 4) ** 2 > STRAY:
        longest *= 0.8
    for part in parts(arc, longest):
        reach = 4 / 3 * math.tan(part.sweep / 4)
        (cx, cy), (x0, y0), (x1, y1) = part.center, part.start, part.end
        yield (
            (x0 - reach * (y0 - cy), y0 + reach * (x0 - cx)),
            (x1 + reach * (y1 - cy), y1 - reach * (x1 - cx)),
            part.end,
        )


def _svg_mark(mark: Mark, height: float) -> str:
    if isinstance(mark, Words):
        return f'<path aria-label="{escape(_printed(mark.text))}" fill="{mark.ink}" d="{letter_paths(mark, height)}"/>'
    line = f'stroke="{mark.ink}" stroke-width="{number(mark.weight)}"' if mark.weight else 'stroke="none"'
    if mark.dash and mark.weight:
        line += f' stroke-dasharray="{" ".join(number(part) for part in mark.dash)}"'
    return f'<path fill="{mark.fill or "none"}" {line} d="{svg_path(mark.edges, height)}"/>'


def _xml(text: str) -> str:
    return escape(_printed(text), quote=False)


def _printed(text: str) -> str:
    """Without the control characters that XML cannot hold."""
    return "".join(letter for letter in text if letter.isprintable())


def _pdf_mark(canvas: Canvas, mark: Mark) -> None:
    if isinstance(mark, Words):
        canvas.setFillColor(mark.ink)
        canvas.setFont(pdf_type(mark.bold), mark.size * POINT)
        if mark.turn:
            canvas.saveState()
            canvas.translate(mark.at[0] * POINT, mark.at[1] * POINT)
            canvas.rotate(math.degrees(mark.turn))
            canvas.drawString(0.0, 0.0, mark.text)
            canvas.restoreState()
        else:
            canvas.drawString(mark.at[0] * POINT, mark.at[1] * POINT, mark.text)
        return
    if mark.dash:
        canvas.setDash([part * POINT for part in mark.dash])
    canvas.setStrokeColor(mark.ink)
    canvas.setLineWidth(mark.weight * POINT)
    if mark.fill:
        canvas.setFillColor(mark.fill)
    canvas.drawPath(_pdf_path(canvas, mark), stroke=int(mark.weight > 0), fill=int(mark.fill is not None))
    if mark.dash:
        canvas.setDash([])


def _pdf_path(canvas: Canvas, mark: Trace) -> Any:
    path = canvas.beginPath()
    begun: Point | None = None
    here: Point | None = None
    for edge in mark.edges:
        if edge.start != here:
            path.moveTo(edge.start[0] * POINT, edge.start[1] * POINT)
            begun = edge.start
        if isinstance(edge, Arc):
            for handles in curves(edge):
                path.curveTo(*(value * POINT for point in handles for value in point))
        elif edge.end != begun:
            path.lineTo(edge.end[0] * POINT, edge.end[1] * POINT)
        if edge.end == begun:
            path.close()
        here = edge.end
    return path
