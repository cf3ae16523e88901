"""Bridges from plain inputs to the savings formulas and back to figures that can be stored."""
