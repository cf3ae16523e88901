"""The one error of the charts."""


class ChartError(ValueError):
    """The figures given cannot be drawn; the text says which and why."""
