"""The sheet's structure, for those who have it read to them: elements in reading order, and what belongs to each.

PDF 1.7 (ISO 32000-1:2008), 14.7 and 14.8: all that is painted on a page stands between BDC and EMC, as the content of
an element of the tree, or as an artifact that is not read. reportlab paints; the tree is ours.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from reportlab.pdfbase.pdfdoc import (
    PDFArray,
    PDFDictionary,
    PDFName,
    PDFObjectReference,
    PDFString,
)
from reportlab.pdfgen.canvas import Canvas

LANGUAGE = "en-US"


@dataclass(eq=False)
class Element:
    """One element of the tree.

    role: a standard structure type, such as "P". alt: what a figure shows, in words. kids: elements, and the marked
    content (page, number on it) that belongs to this one. box: where a figure was painted, in points of its page.
    """

    role: str
    alt: str = ""
    kids: list[Element | tuple[int, int]] = field(default_factory=list)
    box: tuple[float, float, float, float] | None = None

    def child(self, role: str, alt: str = "") -> Element:
        """A new element, read after those that are here already."""
        made = Element(role, alt)
        self.kids.append(made)
        return made

    @property
    def is_read(self) -> bool:
        """Whether anything painted belongs to it, or to what is in it."""
        return any(isinstance(kid, tuple) or kid.is_read for kid in self.kids)


class TaggedCanvas(Canvas):  # type: ignore[misc]
    """A canvas that keeps its pages until the end, when it is known how many there are, and writes the tree."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.root = Element("Document")
        self.owners: list[Element] = []
        self.headings: list[tuple[str, int]] = []
        self.finish_page: Any = None
        self._kept: list[dict[str, Any]] = []
        self._tagging = False

    @contextmanager
    def content(self, element: Element) -> Iterator[None]:
        """What is painted inside belongs to an element."""
        element.kids.append((len(self._kept), len(self.owners)))
        self._code.append(f"/{element.role} <</MCID {len(self.owners)}>> BDC")
        self.owners.append(element)
        yield
        self._code.append("EMC")

    @contextmanager
    def artifact(self, kind: str = "Layout") -> Iterator[None]:
        """What is painted inside is not read: rules, grounds, and what stands on every page."""
        self._code.append(f"/Artifact <</Type /{kind}>> BDC")
        yield
        self._code.append("EMC")

    def heading(self, text: str, level: int = 0) -> None:
        """Note that a heading stands on this page, for the list of headings that readers show."""
        self.headings.append((text, level))

    def showPage(self) -> None:  # noqa: N802
        """Keep the page, and begin the next."""
        self._kept.append(dict(self.__dict__))
        self.owners, self.headings = [], []
        self._startPage()

    def save(self) -> None:
        """Write all pages, each finished by `finish_page(canvas, number, of how many)`, and the tree."""
        kept = self._kept
        pages: list[list[Element]] = []
        for number, state in enumerate(kept, start=1):
            self.__dict__.update(state)
            self._kept = kept
            if self.finish_page is not None:
                self.finish_page(self, number, len(kept))
            for place, (text, level) in enumerate(self.headings):
                self.bookmarkPage(f"{number}-{place}")
                self.addOutlineEntry(text, f"{number}-{place}", level)
            pages.append(self.owners)
            super().showPage()
        self._write_tree(pages)
        super().save()

    def _write_tree(self, pages: list[list[Element]]) -> None:
        document = self._doc
        sheets = [document.Reference(sheet) for sheet in document.Pages.pages]
        for number, sheet in enumerate(document.Pages.pages):
            sheet.__NoDefault__ = [*sheet.__NoDefault__, "StructParents", "Tabs"]
            sheet.StructParents, sheet.Tabs = number, PDFName("S")
        names: dict[int, str] = {}

        def name(element: Element) -> str:
            return names.setdefault(id(element), f"element{len(names)}")

        def write(element: Element, parent: str) -> PDFObjectReference:
            mine = name(element)
            kids: list[Any] = []
            for kid in element.kids:
                if isinstance(kid, tuple):
                    page, mcid = kid
                    kids.append(PDFDictionary({"Type": PDFName("MCR"), "Pg": sheets[page], "MCID": mcid}))
                elif kid.is_read or kid.role in ("TD", "TH"):
                    kids.append(write(kid, mine))
            entries: dict[str, Any] = {
                "Type": PDFName("StructElem"),
                "S": PDFName(element.role),
                "P": PDFObjectReference(parent),
                "K": PDFArray(kids),
            }
            if element.alt:
                entries["Alt"] = PDFString(element.alt)
            if element.box is not None:
                box = PDFArray([round(value, 2) for value in element.box])
                entries["A"] = PDFDictionary({"O": PDFName("Layout"), "BBox": box, "Placement": PDFName("Block")})
            elif element.role == "TH":
                entries["A"] = PDFDictionary({"O": PDFName("Table"), "Scope": PDFName("Column")})
            elif element.role == "L":
                entries["A"] = PDFDictionary({"O": PDFName("List"), "ListNumbering": PDFName("None")})
            return document.Reference(PDFDictionary(entries), mine)

        top = write(self.root, "tree")
        parents: list[Any] = []
        for number, owners in enumerate(pages):
            parents += [number, PDFArray([PDFObjectReference(name(owner)) for owner in owners])]
        tree = PDFDictionary(
            {
                "Type": PDFName("StructTreeRoot"),
                "K": PDFArray([top]),
                "ParentTree": PDFDictionary({"Nums": PDFArray(parents)}),
                "ParentTreeNextKey": len(pages),
            }
        )
        document.Reference(tree, "tree")
        document.Catalog.StructTreeRoot = tree
        document.Catalog.MarkInfo = PDFDictionary({"Marked": "true"})
        document.Catalog.Lang = PDFString(LANGUAGE)
