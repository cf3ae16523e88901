"""What the savings formulas refuse: each text names the field, value, limit and next step."""


class SavingsError(ValueError):
    """A value the savings formulas cannot be applied to."""


class ClimateError(SavingsError):
    """Temperatures from which no degree days can be counted."""


class FuelError(SavingsError):
    """A fuel, unit or price the tables do not hold."""


class EconomicsError(SavingsError):
    """A rate, lifetime, cost or price no present value can be made of."""


class BillError(SavingsError):
    """Bills that cannot be put in a row, or a row of them that no model can be fitted to."""
