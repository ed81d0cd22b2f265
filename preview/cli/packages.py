"""What is said where a Python package that the command needs is missing, or cannot be loaded."""

from __future__ import annotations

from collections.abc import Iterator
from types import TracebackType

from preview.errors import PreviewError

OWN = ("preview", "__main__")
AGAIN = "install the program again, with all that it needs"


def at_fault(error: ImportError | OSError) -> PreviewError | None:
    """What is wrong with the package whose loading ended in this error; None for an error of any other origin."""
    package = _loaded(error)
    if package is None:
        return None
    if isinstance(error, ModuleNotFoundError):
        return PreviewError("", None, f"the Python package {package} is not installed", AGAIN)
    said = str(error).strip().partition("\n")[0]
    return PreviewError("", None, f"the Python package {package} is installed but cannot be loaded ({said})", AGAIN)


def _loaded(error: ImportError | OSError) -> str | None:
    """The package that could not be loaded, by its name in an import."""
    named = error.name if isinstance(error, ImportError) else None
    names = [named] if named else _modules(error.__traceback__)
    packages = (name.partition(".")[0] for name in names)
    return next((package for package in packages if package not in OWN), None)


def _modules(trace: TracebackType | None) -> Iterator[str]:
    """The modules that were being loaded, the first one asked for first."""
    while trace is not None:
        frame = trace.tb_frame
        if frame.f_code.co_name == "<module>":
            yield str(frame.f_globals.get("__name__", ""))
        trace = trace.tb_next
