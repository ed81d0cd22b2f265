"""The command `molding`, which says so where it cannot even be loaded."""

from __future__ import annotations

import sys

from preview.cli import packages


def main() -> None:
    """Run the command."""
    try:
        from preview.cli.app import main as run
    except (ImportError, OSError) as error:
        package = packages.at_fault(error)
        if package is None:
            raise
        sys.stderr.write(f"{package}\n")
        raise SystemExit(2) from None
    run()


__all__ = ["main"]
