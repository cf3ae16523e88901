"""The version of the arithmetic; it changes with any change that can change a figure."""

MATHS_VERSION = "2026.1"
