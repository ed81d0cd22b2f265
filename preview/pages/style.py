"""How the sheet looks: papers, margins and columns, type and colors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from reportlab.lib.colors import Color as Ink
from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.fonts import addMapping
from reportlab.lib.styles import ParagraphStyle

from preview.paper import POINT, SHEETS, pdf_type
from preview.scene import Brand, Color, PaperName

GAP = 8.0
"""mm between columns."""
STRIP = 11.5
"""mm, the strip at the foot of every page."""
ABOVE_STRIP = 4.0

INK = HexColor("#1b1f24")
SOFT = HexColor("#4d555e")
FAINT = HexColor("#5f666e")
RULE = HexColor("#c9ced3")
BOX = HexColor("#7b838b")
WARNING = HexColor("#9b2c1f")


@dataclass(frozen=True)
class Plan:
    """Where things stand on a page: its size, margin and columns, mm."""

    width: float
    height: float
    margin: float
    columns: int

    @property
    def room(self) -> tuple[float, float]:
        """Width and height between the margins, above the strip."""
        return self.width - 2 * self.margin, self.height - 2 * self.margin - STRIP - ABOVE_STRIP

    @property
    def foot(self) -> float:
        """The height above the page's lower edge at which the room begins."""
        return self.margin + STRIP + ABOVE_STRIP

    @property
    def column(self) -> float:
        """The width of one column."""
        return (self.room[0] - GAP * (self.columns - 1)) / self.columns


def plan_of(paper: PaperName) -> Plan:
    """How the pages of a paper are laid out."""
    large = paper in ("tabloid", "a3")
    return Plan(*SHEETS[paper][::-1], margin=13.0 if large else 11.0, columns=3 if large else 2)


def ink_of(color: Color) -> Ink:
    """A color of ours as reportlab has it."""
    return Ink(*color)


class Styles:
    """The paragraphs' styles, in a brand's color. Sizes are in points."""

    def __init__(self, brand: Brand) -> None:
        self.brand = ink_of(brand.color)
        self.tint = ink_of(brand.tint) if brand.tint is not None else None
        regular, bold = pdf_type(False), pdf_type(True)
        for weight, name in ((0, regular), (1, bold)):
            addMapping(regular, weight, 0, name)
        self.regular, self.bold = regular, bold
        self.text = self._made("text", regular, 9.0, 12.0, after=3.0)
        self.small = self._made("small", regular, 7.8, 10.2, ink=SOFT, after=2.0)
        self.cell = self._made("cell", regular, 8.2, 10.2)
        self.cell_bold = self._made("cell bold", bold, 8.2, 10.2)
        self.cell_gray = self._made("cell gray", regular, 8.2, 10.2, ink=FAINT)
        self.cell_right = self._made("cell right", regular, 8.2, 10.2, align=TA_RIGHT)
        self.cell_right_gray = self._made("cell right gray", regular, 8.2, 10.2, ink=FAINT, align=TA_RIGHT)
        self.head = self._made("head", bold, 7.4, 9.4, ink=self.brand)
        self.head_right = self._made("head right", bold, 7.4, 9.4, ink=self.brand, align=TA_RIGHT)
        self.label = self._made("label", regular, 7.4, 9.6, ink=FAINT)
        self.value = self._made("value", regular, 9.0, 11.2)
        self.shop = self._made("shop", bold, 11.0, 13.5, ink=self.brand, after=1.0)
        self.caption = self._made("caption", regular, 7.8, 9.6, ink=SOFT)
        self.section = self._made("section", bold, 14.0, 17.0, ink=self.brand, before=9.0, after=4.0)
        self.sub = self._made("sub", bold, 9.6, 12.2, before=5.0, after=2.0)
        self.code = self._made("code", bold, 15.0, 18.0, after=2.5)
        self.item = self._made("item", regular, 9.0, 12.0, after=2.0, left=11.0, bullet=1.5)
        self.small_item = self._made("small item", regular, 8.4, 10.8, after=1.0, left=27.0, bullet=19.0)
        self.tick = self._made("tick", regular, 9.0, 12.0, after=2.0, left=19.0)
        self.tick_bold = self._made("tick bold", bold, 9.6, 12.4, before=6.0, after=1.5, left=19.0)
        self.option = self._made("option", regular, 8.6, 11.4, after=2.2, left=38.0)
        self.under_tick = self._made("under tick", regular, 8.4, 10.8, ink=SOFT, after=1.5, left=19.0)
        self.warning = self._made("warning", bold, 9.0, 12.0, ink=WARNING, after=3.0)
        self.fill = self._made("fill", regular, 8.2, 10.0, ink=FAINT)

    def title(self, letters: int) -> ParagraphStyle:
        """The title's style, smaller the longer it is."""
        size = next(size for most, size in ((44, 21.0), (90, 16.5), (170, 12.5), (10**9, 10.0)) if letters <= most)
        return self._made(f"title {size}", self.bold, size, size * 1.16, after=5.0)

    def _made(
        self,
        name: str,
        font: str,
        size: float,
        leading: float,
        *,
        ink: Any = INK,
        before: float = 0.0,
        after: float = 0.0,
        left: float = 0.0,
        bullet: float = 0.0,
        align: int = TA_LEFT,
    ) -> ParagraphStyle:
        return ParagraphStyle(
            name,
            fontName=font,
            fontSize=size,
            leading=leading,
            textColor=ink,
            spaceBefore=before,
            spaceAfter=after,
            leftIndent=left,
            bulletIndent=bullet,
            bulletFontName=font,
            bulletFontSize=size,
            alignment=align,
            allowWidows=0,
            allowOrphans=0,
            splitLongWords=1,
            uriWasteReduce=0.0,
        )


def points(mm: float) -> float:
    """Millimeters as a PDF's points."""
    return mm * POINT
