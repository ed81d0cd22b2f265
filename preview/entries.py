"""Tables of what the program offers by name, to which other packages add: shapes, ends of runs, formats.

A package adds a function by naming it among its entry points, in the table's group (the entry points specification of
the Python Packaging User Guide), or a program by `enter`. A scene file names what is offered, and never code.

One that a package names and that cannot be loaded is told once, as a warning on the error stream, and keeps its name:
only who asks for that very name is refused, with the same words.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from importlib.metadata import EntryPoint, entry_points
from typing import TypeVar

from preview.errors import PreviewError, printable

T = TypeVar("T")

NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_LOG = logging.getLogger(__name__)


class Entries(Mapping[str, T]):
    """Names and what each stands for. noun: of one of them, in messages. group: of the entry points that add to it.

    taken: names that may not be added, since they mean something else where these stand. Installed packages are looked
    through once, when the table is first read. A name that stands for something that cannot be loaded is among the
    names, and asking for it (`in` and `get` ask too) raises PreviewError.
    """

    def __init__(self, noun: str, group: str, own: Mapping[str, T], taken: tuple[str, ...] = ()) -> None:
        self.noun = noun
        self.group = group
        self._own = frozenset(own)
        self._entered = dict(own)
        self._broken: dict[str, PreviewError] = {}
        self._taken = frozenset(taken)
        self._looked = False

    def __getitem__(self, name: str) -> T:
        entered = self._all()
        if name in self._broken:
            raise PreviewError.several(self._broken[name].problems)
        return entered[name]

    def __iter__(self) -> Iterator[str]:
        return iter([*self._all(), *self._broken])

    def __len__(self) -> int:
        return len(self._all()) + len(self._broken)

    def enter(self, name: str, value: T) -> None:
        """Add one. Raises PreviewError for a name that is taken, or has more than small letters, digits and hyphens."""
        fix = f"enter the {self.noun} under another name, such as {name.lower()}-2"
        if not NAME.fullmatch(name):
            problem = f'"{name}" is no name for a {self.noun}: small letters and digits, with hyphens between words'
            raise PreviewError("", None, problem, "enter it under such a name")
        if name in self._entered or name in self._taken:
            raise PreviewError("", None, f'"{name}" is taken already', fix)
        self._entered[name] = value
        self._broken.pop(name, None)

    def entered(self, name: str) -> Callable[[T], T]:
        """The same as a decorator of the function that is added."""

        def add(function: T) -> T:
            self.enter(name, function)
            return function

        return add

    def error(self, name: str, problem: str) -> PreviewError:
        """What is wrong with what stands behind a name; it begins with the name."""
        return PreviewError(
            "", None, f'the {self.noun} "{name}" {problem}', "mend the function that was entered for it"
        )

    @contextmanager
    def asking(self, name: str) -> Iterator[None]:
        """While a function from elsewhere is at work: whatever it raises is one PreviewError that names it."""
        try:
            yield
        except PreviewError:
            raise
        except Exception as error:
            if name in self._own:  # a fault of this program, which is not for a user to mend
                raise
            raise self.error(name, f"ended with {said(error)}") from error

    def _all(self) -> Mapping[str, T]:
        if not self._looked:
            self._looked = True
            for point in _points(self.group):
                try:
                    value = point.load()
                    if not callable(value):
                        raise TypeError(f"{type(value).__name__} is no function")
                    self.enter(point.name, value)
                except PreviewError as error:
                    self._warn(point, "; ".join(each.problem for each in error.problems))
                except (Exception, SystemExit) as error:  # whatever another package's module may do while it loads
                    self._warn(point, said(error))
        return self._entered

    def _warn(self, point: EntryPoint, why: str) -> None:
        """Tell of an entry point that cannot be used, and keep what was told for who asks for its name."""
        package = f"the package {point.dist.name}" if point.dist else "a package"
        where = f"{point.value}, in the group {self.group}"
        problem = f"the {self.noun} {point.name} of {package} ({where}) cannot be loaded: {why}"
        error = PreviewError("", None, problem, "mend or uninstall that package")
        if point.name not in self._entered and point.name not in self._taken:
            self._broken.setdefault(point.name, error)
        _LOG.warning("warning:\n%s", error)


def said(error: BaseException) -> str:
    """What an exception says, with its kind: `ValueError: no such wood`."""
    return f"{type(error).__name__}: {error}".removesuffix(": ")


def _points(group: str) -> list[EntryPoint]:
    try:
        return sorted(entry_points(group=group), key=lambda point: point.name)
    except Exception as error:  # a package whose own list cannot be read
        _LOG.warning("warning: what packages add to %s cannot be read: %s", group, printable(said(error)))
        return []
