"""What the savings formulas refuse: each text names the field, value, limit and next step."""


class SavingsError(ValueError):
    """A value the savings formulas cannot be applied to."""


class ClimateError(SavingsError):
    """Temperatures from which no degree days can be counted."""


class FuelError(SavingsError):
    """A fuel, unit or price the tables do not hold."""
