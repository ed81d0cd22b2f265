"""How much is read from a file: numbers against files that would take the machine, each of which can be raised.

A limit is well above what the trade needs, and what passes it is refused in words and by number. Whoever has such a
file and the machine for it sets the limit's variable in the environment to another whole number, such as
`MOLDING_LIMIT_TRIANGLES=20000000`.
"""

from __future__ import annotations

import os
from dataclasses import dataclass

from preview.errors import PreviewError

PREFIX = "MOLDING_LIMIT_"


@dataclass(frozen=True)
class Limit:
    """How many of something are read at most, unless the environment says otherwise. noun: of what, in the plural."""

    name: str
    usual: int
    noun: str

    @property
    def variable(self) -> str:
        """The environment variable that raises or lowers it."""
        return PREFIX + self.name

    def most(self) -> int:
        """The limit that holds. Raises PreviewError where the environment gives one that is no whole number."""
        given = os.environ.get(self.variable, "").strip()
        if not given:
            return self.usual
        if not (given.isascii() and given.isdigit() and len(given) <= 18):
            raise PreviewError(
                self.variable,
                f'"{given[:40]}"',
                "a limit is a whole number of at most 18 digits",
                f"write {self.variable}={self.usual}, or leave it out for that",
            )
        return int(given)

    def refuse(self, count: int, holder: str, fix: str) -> None:
        """Raise PreviewError where `holder` ("the GLB") has more than the limit. fix: what to do about the file."""
        most = self.most()
        if count > most:
            problem = f"{holder} has {self._said(count)}, and {self._said(most, bare=True)} is the most"
            raise PreviewError("", None, problem, f"{fix}, or allow more: set {self.variable} to a larger number")

    def _said(self, count: int, *, bare: bool = False) -> str:
        if self.noun == "bytes":
            return f"{count / 1e6:,.9g} MB"
        return f"{count:,}" if bare else f"{count:,} {self.noun}"


MODEL_BYTES = Limit("MODEL_BYTES", 200_000_000, "bytes")
NODES = Limit("NODES", 100_000, "nodes")
BODIES = Limit("BODIES", 10_000, "bodies")
TRIANGLES = Limit("TRIANGLES", 4_000_000, "triangles and vertices")
OVERLAPS = Limit("OVERLAPS", 100_000, "pairs of bodies that lie within each other's boxes")
NEAR = Limit("NEAR", 5_000_000, "pairs of things in each other's boxes")
ENDS = Limit("ENDS", 100_000, "pairs of ends near each other")
RIMS = Limit("RIMS", 2_000_000_000, "pairs of edges round faces near each other")
TOUCHES = Limit("TOUCHES", 100_000, "pairs of flat faces that lie in one plane")
CROWDED = Limit("CROWDED", 500_000, "triangles at edges that more than two share")
KERNEL_SECONDS = Limit("KERNEL_SECONDS", 300, "seconds in the CAD kernel")
KERNEL_BYTES = Limit("KERNEL_BYTES", 4_000_000_000, "bytes of memory in the CAD kernel")
HEADINGS = Limit("HEADINGS", 500, "headings")
PIECES = Limit("PIECES", 50_000, "pieces")
VERTICES = Limit("VERTICES", 5_000_000, "vertices")
ENTRIES = Limit("ENTRIES", 20_000, "entries")
CUT_EDGES = Limit("CUT_EDGES", 250, "edges of cutters")
SHAPES = Limit("SHAPES", 2_000, "shapes")
