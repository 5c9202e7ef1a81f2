"""The printed sheet: its geometry, its drawing, and what a person read off the print."""

from cutvision.target.print_scale import PrintReadings, PrintScale, print_scale
from cutvision.target.sheet import SHEETS, Sheet

__all__ = ["SHEETS", "PrintReadings", "PrintScale", "Sheet", "print_scale"]
