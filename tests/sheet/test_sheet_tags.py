"""The sheet's structure, as PDFium and pdfminer read it: the tree, its words for figures, its order, its parents."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from typing import Any

import pypdfium2
import pypdfium2.raw as raw
import pytest
from pdfminer.pdftypes import resolve1

from preview.sheet import sheet_pdf
from sheets import opened, scene_job

ALLOWED = {"Document", "Sect", "H1", "H2", "H3", "H4", "P", "Figure", "Table", "TR", "TH", "TD", "L", "LI", "LBody"}
"""Standard structure types: ISO 32000-1:2008, 14.8.4."""


@pytest.fixture(scope="module")
def sheet() -> bytes:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("preview.sheet.compose._line_drawings", lambda *_: [])
        return sheet_pdf(scene_job("window-seat", photos=4))


def text_from(function: Any, element: Any) -> str:
    size = function(element, None, 0)
    if not size:
        return ""
    buffer = ctypes.create_string_buffer(size)
    function(element, buffer, size)
    return buffer.raw.decode("utf-16-le").rstrip("\0")


def elements(element: Any) -> Iterator[Any]:
    yield element
    for i in range(raw.FPDF_StructElement_CountChildren(element)):
        child = raw.FPDF_StructElement_GetChildAtIndex(element, i)
        if child:
            yield from elements(child)


def of_page(page: Any) -> list[Any]:
    tree = raw.FPDF_StructTree_GetForPage(page)
    count = raw.FPDF_StructTree_CountChildren(tree)
    return [each for i in range(count) for each in elements(raw.FPDF_StructTree_GetChildAtIndex(tree, i))]


def test_pdfium_finds_the_tree(sheet: bytes) -> None:
    document = pypdfium2.PdfDocument(sheet)
    try:
        assert raw.FPDFCatalog_IsTagged(document)
        found: dict[str, int] = {}
        for number in range(len(document)):
            for element in of_page(document[number]):
                kind = text_from(raw.FPDF_StructElement_GetType, element)
                assert kind in ALLOWED
                found[kind] = found.get(kind, 0) + 1
                if kind == "Figure":
                    assert len(text_from(raw.FPDF_StructElement_GetAltText, element)) > 10
        assert found["H1"] == 1
        assert found["Table"] >= 2
        assert found["TH"] >= 8
        assert found["Figure"] >= 6  # four pictures, two profiles
        assert found["H2"] >= 7
    finally:
        document.close()


def walk(node: dict[str, Any], parents: tuple[str, ...] = ()) -> Iterator[tuple[dict[str, Any], tuple[str, ...]]]:
    yield node, parents
    for child in node.get("children", []):
        yield from walk(child, (*parents, node["type"]))


def test_elements_stand_where_they_may(sheet: bytes) -> None:
    """Rows in tables, cells in rows, items in lists: ISO 32000-1:2008, tables 336 and 337."""
    inside = {"TR": "Table", "TH": "TR", "TD": "TR", "LI": "L", "LBody": "LI", "Sect": "Document"}
    with opened(sheet) as pages:
        (top,) = pages[0].pdf.structure_tree
        assert top["type"] == "Document"
        for node, parents in walk(top):
            if node["type"] in inside:
                assert parents[-1] == inside[node["type"]]


def test_it_is_read_in_the_order_of_the_pages_and_headings_come_first(sheet: bytes) -> None:
    with opened(sheet) as pages:
        said: list[str] = []
        first: list[int] = []
        chars: dict[tuple[int, int], str] = {}
        for page in pages:
            for char in page.chars:
                if char["mcid"] is not None:
                    key = (page.page_number, char["mcid"])
                    chars[key] = chars.get(key, "") + char["text"]
        root = resolve1(pages[0].pdf.doc.catalog["StructTreeRoot"])
        numbers = {page.page_obj.pageid: page.page_number for page in pages}

        def read(element: Any) -> None:
            for kid in resolve1(element["K"]):
                kid = resolve1(kid)
                if str(kid.get("Type", "")) == "/'MCR'":
                    at = (numbers[kid["Pg"].objid], kid["MCID"])
                    first.append(at[0])
                    said.append(chars.get(at, ""))
                else:
                    read(kid)

        read(root)
    assert first == sorted(first)
    text = "\n".join("".join(each.split()) for each in said)
    order = ["Windowseatbetweenstonepiers", "Profilesatfullsize", "Options", "Pieces", "Checks", "Approval"]
    places = [text.index(word) for word in order]
    assert places == sorted(places)
    assert "Whatisapproved" in text[places[-1] :]


def test_the_parent_tree_leads_back(sheet: bytes) -> None:
    """Each marked content's entry is an element that names it: ISO 32000-1:2008, 14.7.4.4."""
    with opened(sheet) as pages:
        root = resolve1(pages[0].pdf.doc.catalog["StructTreeRoot"])
        numbers = resolve1(resolve1(root["ParentTree"])["Nums"])
        owners = dict(zip(numbers[::2], (resolve1(each) for each in numbers[1::2]), strict=True))
        for page in pages:
            mine = owners[page.page_obj.attrs["StructParents"]]
            used = {each["mcid"] for each in (*page.chars, *page.images, *page.curves) if each["mcid"] is not None}
            assert used <= set(range(len(mine)))
            for mcid in used:
                kids = [resolve1(kid) for kid in resolve1(resolve1(mine[mcid])["K"])]
                assert any(kid.get("MCID") == mcid and kid["Pg"].objid == page.page_obj.pageid for kid in kids)


def test_a_tables_head_is_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """On further pages it is repeated for the eye alone."""
    from preview.review import every_shown
    from preview.scene import NEUTRAL
    from preview.sheet import SheetJob
    from sheets import photo, zigzag

    monkeypatch.setattr("preview.sheet.compose._line_drawings", lambda *_: [])
    scene = zigzag(90)
    data = sheet_pdf(SheetJob(scene, every_shown(scene), (photo(0),), NEUTRAL, "letter", "2026-11-29"))
    with opened(data) as pages:
        heads = [
            {char["tag"] for char in page.chars if char["text"] == "w" and char["fontname"].endswith("Semibold")}
            for page in pages
            if "On the wall line" in (page.extract_text() or "")
        ]
    assert len(heads) >= 2
    assert "Artifact" in heads[-1]
