"""What the leakage formulas refuse: each text names the field, value, limit and next step."""


class LeakageError(ValueError):
    """A value the leakage formulas cannot be applied to.

    Parameters
    ----------
    message : str, optional
        The whole text. Left out, it is made from the other arguments.
    quantity : str, optional
        What was refused, in the words of the trade: "Flow of point 3".
    value : float, int or str, optional
        What was given.
    unit : str, optional
        Unit of value and limit; empty where there is none.
    limit : str, optional
        What would be accepted, to be read after "it must be": "more than 0".
    next_step : str, optional
        A whole sentence saying what to do.
    """

    def __init__(
        self,
        message: str = "",
        *,
        quantity: str = "",
        value: float | str | None = None,
        unit: str = "",
        limit: str = "",
        next_step: str = "",
    ) -> None:
        self.quantity = quantity
        self.value = value
        self.unit = unit
        self.limit = limit
        self.next_step = next_step
        super().__init__(message or self._text())

    def _text(self) -> str:
        given = "not given" if self.value is None else _with_unit(_shown(self.value), self.unit)
        refused = f"{self.quantity} is {given}; it must be {_with_unit(self.limit, self.unit)}."
        return f"{refused} {self.next_step}".strip()


class NotPositive(LeakageError):
    """A reading whose logarithm does not exist."""


class TooFewPoints(LeakageError):
    """Fewer usable points than the method needs."""


class SpanTooSmall(LeakageError):
    """Pressures too close together to tell an exponent."""


class OutOfRange(LeakageError):
    """A value outside the range for which a formula holds."""


class ShapeMismatch(LeakageError):
    """Arrays that do not belong to the same points."""


class NotConverged(LeakageError):
    """An iteration that did not settle."""


def _shown(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def _with_unit(text: str, unit: str) -> str:
    return f"{text} {unit}" if unit else text
