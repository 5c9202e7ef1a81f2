"""The printed sheet: its geometry, its drawing, and what a person read off the print."""

from cutvision.target.sheet import SHEETS, Sheet, sheet_of_marker

__all__ = ["SHEETS", "Sheet", "sheet_of_marker"]
