"""cutvision: how far a table-saw fence is off, from photos of an offcut or from caliper readings."""

__version__ = "0.1.0"
