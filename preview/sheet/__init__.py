"""The sheet that a client signs, as PDF: pictures, drawings, profiles at full size, tables, checks, a place to sign."""

from preview.sheet.job import Paper, Photo, SheetJob
from preview.sheet.sheet import sheet_pdf

__all__ = ["Paper", "Photo", "SheetJob", "sheet_pdf"]
