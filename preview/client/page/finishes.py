"""The finishes of a scene in all its variants, each once, and those that its molding may be tried in."""

from __future__ import annotations

from collections.abc import Sequence

from preview.build import Built
from preview.client.page.container import Record
from preview.scene import ON_WOOD, Finish


class Finishes:
    """Every finish that is shown, numbered in the order in which it is met: those that molding may wear first."""

    def __init__(self, builts: Sequence[Built]) -> None:
        self._numbers: dict[Finish, int] = {}
        for built in builts:
            for member in built.members:
                self.number(member.finish)
        for finish in (finish for built in builts for finish in built.scene.finishes):
            if finish.kind in ON_WOOD:
                self.number(finish)
        self._on_molding = len(self._numbers)

    def number(self, finish: Finish) -> int:
        """The number of a finish; a new one is taken up."""
        return self._numbers.setdefault(finish, len(self._numbers))

    def records(self) -> list[Record]:
        """All of them, as the document holds them."""
        return [
            {
                "name": finish.name,
                "color": [round(part, 4) for part in finish.color],
                "roughness": finish.roughness,
                "metallic": finish.metallic,
                "kind": finish.kind,
                "molding": number < self._on_molding,
            }
            for finish, number in self._numbers.items()
        ]
