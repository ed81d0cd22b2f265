"""An XML file as a plain tree, with nothing in it that could grow, reach out or run.

A DOCTYPE line that only names a document type, as many programs write, is passed over and never fetched. One
that declares anything, and so could hold entities or default attributes, is refused before it is read.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from xml.parsers import expat

from preview.drawings.sheet import too_much
from preview.errors import PreviewError

MOST_ELEMENTS = 60_000
MOST_DEEP = 200


@dataclass
class Node:
    """An element: its local name, its attributes by local name, and the elements in it. Text is left out."""

    name: str
    given: dict[str, str]
    inside: list[Node] = field(default_factory=list)


def read_xml(data: bytes) -> Node:
    """The root element of a file.

    Raises PreviewError, with the line, where the XML is malformed, too large or too deep, or declares a type.
    """
    parser = expat.ParserCreate(namespace_separator=" ")
    top = Node("", {})
    open_nodes = [top]
    count = 0

    def start(name: str, given: dict[str, str]) -> None:
        nonlocal count
        count += 1
        if count > MOST_ELEMENTS:
            raise too_much(f"{MOST_ELEMENTS:,} elements")
        if len(open_nodes) > MOST_DEEP:
            raise PreviewError(
                "",
                None,
                f"elements are nested more than {MOST_DEEP} deep, at line {parser.CurrentLineNumber}",
                "ungroup the drawing, and save the profile alone",
            )
        node = Node(_local(name), {_local(key): value for key, value in given.items()})
        open_nodes[-1].inside.append(node)
        open_nodes.append(node)

    def end(_name: str) -> None:
        open_nodes.pop()

    def doctype(_name: str, _system: str | None, _public: str | None, declares: bool) -> None:
        if declares:
            raise _refused()

    def declared(*_: object) -> None:
        raise _refused()

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.StartDoctypeDeclHandler = doctype
    parser.EntityDeclHandler = declared
    parser.ExternalEntityRefHandler = declared  # type: ignore[assignment]  # it raises
    try:
        # All at once: in parts, older parsers begin a long attribute again with every part.
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise PreviewError(
            "",
            None,
            f"the file is no sound XML from line {error.lineno} on: {expat.ErrorString(error.code)}",
            "save it from the drawing program as plain SVG",
        ) from error
    except (ValueError, LookupError) as error:  # an encoding that nobody knows
        raise PreviewError(
            "", None, f"the file cannot be read as XML: {error}", "save it from the drawing program as plain SVG"
        ) from error
    return top.inside[0]


def _local(name: str) -> str:
    return name.rpartition(" ")[2]


def _refused() -> PreviewError:
    return PreviewError(
        "",
        None,
        "the file declares entities or a document type of its own, which no drawing needs and which can do harm",
        "save it from the drawing program as plain SVG, or take the DOCTYPE out",
    )
