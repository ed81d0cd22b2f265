"""A scene in a notebook: the client's page as the result of a cell.

from preview.notebook import load
load("window-seat.toml")
"""

from __future__ import annotations

import html
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from preview.units import counted

if TYPE_CHECKING:
    from preview.client import Shown
    from preview.scene import Scene

HEIGHT = 720
"""Of the page in a notebook, CSS pixels: its picture and the controls below it, on a laptop's screen."""


@dataclass(frozen=True, repr=False)
class Preview:
    """A scene, built and measured, that a notebook shows as the client's page; elsewhere it says what was found.

    pieces: of the scene as drawn. variants: how many combinations of its options there are. checks: how many were
    made on all of them. failures: a sentence for each that does not hold. page: the client's page, a whole HTML file.
    """

    title: str
    pieces: int
    variants: int
    checks: int
    failures: tuple[str, ...]
    page: bytes

    @property
    def holds(self) -> bool:
        """Whether every check passed, on every variant."""
        return not self.failures

    def __repr__(self) -> str:
        said = [counted(self.pieces, "piece")]
        said += [counted(self.variants, "variant")] if self.variants > 1 else []
        verdict = f"all {self.checks} checks hold"
        if not self.holds:
            verdict = f"{len(self.failures)} of {self.checks} checks FAILED"
        return "\n".join([f"{self.title}: {', '.join(said)}, {verdict}", *(f"  {line}" for line in self.failures)])

    def _repr_html_(self) -> str:
        """The page in a frame of its own, which may run its script, save files and print, and reach nothing outside."""
        page = html.escape(self.page.decode("utf-8"))
        return (
            f'<iframe title="{html.escape(self.title)}" srcdoc="{page}"'
            ' sandbox="allow-scripts allow-downloads allow-modals"'
            f' width="100%" height="{HEIGHT}" style="border: 0; display: block"></iframe>'
        )


def load(scene: str | Path) -> Preview:
    """Build the scene in a file, with all of its options, and measure it.

    Raises PreviewError, whose text is what the command would say, when something in the scene is written wrong.
    """
    from preview.client import page_html
    from preview.review import review
    from preview.scene import load_scene

    read = load_scene(Path(scene))
    shown = review(read)
    return Preview(
        read.title,
        len(shown[0].built.pieces),
        len(shown),
        sum(len(each.inspection.findings) for each in shown if each.inspection is not None),
        tuple(f"{_picked(read, each)}{sentence}" for each in shown for sentence in each.failures),
        page_html(read, shown, None),
    )


def _picked(scene: Scene, shown: Shown) -> str:
    """Which of the scene's variants is spoken of, "" where there is one."""
    picked = [choice.alternatives[pick].name for choice, pick in zip(scene.choices, shown.picks, strict=True)]
    return f"{', '.join(picked)}: " if picked else ""
