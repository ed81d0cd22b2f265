"""Documents of several pages: papers, columns and type, blocks and tables, drawings on shelves, a tagged PDF.

tags, style -> blocks, words -> layout, shelving -> writing
"""

from preview.pages.blocks import Captioned, Drawn, Figure, Lines, Pair, Para, Picture, Rule, Swatch, panel, table
from preview.pages.layout import COLUMNS, WIDE, About, OnOnePage, Strip, written
from preview.pages.shelving import (
    BETWEEN,
    HEADING,
    UNDER,
    Item,
    Row,
    column_size,
    drawn,
    packed,
    page_area,
    page_height,
    row_size,
    shelves,
)
from preview.pages.style import GAP, Styles, ink_of, plan_of, points
from preview.pages.tags import Element
from preview.pages.words import clean, has_all, length, said, typeset
from preview.pages.writing import Writing, bullets, note, sub

__all__ = [
    "BETWEEN",
    "COLUMNS",
    "GAP",
    "HEADING",
    "UNDER",
    "WIDE",
    "About",
    "Captioned",
    "Drawn",
    "Element",
    "Figure",
    "Item",
    "Lines",
    "OnOnePage",
    "Pair",
    "Para",
    "Picture",
    "Row",
    "Rule",
    "Strip",
    "Styles",
    "Swatch",
    "Writing",
    "bullets",
    "clean",
    "column_size",
    "drawn",
    "has_all",
    "ink_of",
    "length",
    "note",
    "packed",
    "page_area",
    "page_height",
    "panel",
    "plan_of",
    "points",
    "row_size",
    "said",
    "shelves",
    "sub",
    "table",
    "typeset",
    "written",
]
