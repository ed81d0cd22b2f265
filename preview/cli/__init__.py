"""The command `molding`."""

from preview.cli.app import app, main

__all__ = ["app", "main"]
