"""Tables of what the program offers by name, to which other packages add: shapes, ends of runs, formats.

A package adds a function by naming it among its entry points, in the table's group (the entry points specification of
the Python Packaging User Guide), or a program by `enter`. A scene file names what is offered, and never code.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from importlib.metadata import entry_points
from typing import TypeVar

from preview.errors import PreviewError

T = TypeVar("T")

NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


class Entries(Mapping[str, T]):
    """Names and what each stands for. noun: of one of them, in messages. group: of the entry points that add to it.

    taken: names that may not be added, since they mean something else where these stand. Installed packages are looked
    through once, when the table is first read.
    """

    def __init__(self, noun: str, group: str, own: Mapping[str, T], taken: tuple[str, ...] = ()) -> None:
        self.noun = noun
        self.group = group
        self._entered = dict(own)
        self._taken = frozenset(taken)
        self._looked = False

    def __getitem__(self, name: str) -> T:
        return self._all()[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._all())

    def __len__(self) -> int:
        return len(self._all())

    def enter(self, name: str, value: T) -> None:
        """Add one. Raises PreviewError for a name that is taken, or has more than small letters, digits and hyphens."""
        fix = f"enter the {self.noun} under another name, such as {name.lower()}-2"
        if not NAME.fullmatch(name):
            problem = f'"{name}" is no name for a {self.noun}: small letters and digits, with hyphens between words'
            raise PreviewError("", None, problem, "enter it under such a name")
        if name in self._entered or name in self._taken:
            raise PreviewError("", None, f'"{name}" is taken already', fix)
        self._entered[name] = value

    def entered(self, name: str) -> Callable[[T], T]:
        """The same as a decorator of the function that is added."""

        def add(function: T) -> T:
            self.enter(name, function)
            return function

        return add

    def _all(self) -> Mapping[str, T]:
        if not self._looked:
            self._looked = True
            for point in sorted(entry_points(group=self.group), key=lambda point: point.name):
                try:
                    self.enter(point.name, point.load())
                except PreviewError as error:
                    raise error.at(f"{point.value}, in the group {self.group}") from None
                except Exception as error:  # whatever another package's module may raise while it loads
                    said = f"the {self.noun} {point.name} cannot be loaded: {error}"
                    fix = "mend or uninstall the package that brings it"
                    raise PreviewError(f"{point.value}, in the group {self.group}", None, said, fix) from error
        return self._entered
