"""Sheets to bake from: what a plan says, put in words and on paper, and a workbook that loads
without an edit.
"""

from .write import FORMS, WrittenSheets, make_sheets, write_sheets

__all__ = ["FORMS", "WrittenSheets", "make_sheets", "write_sheets"]
