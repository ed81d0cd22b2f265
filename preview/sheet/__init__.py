"""The sheet that a client signs, as PDF: pictures, drawings, profiles at full size, tables, checks, a place to sign."""

from preview.sheet.job import Photo, SheetJob
from preview.sheet.sheet import sheet_pdf

__all__ = ["Photo", "SheetJob", "sheet_pdf"]
