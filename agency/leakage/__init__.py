"""Air flow, leakage and pressures of a house: pure formulas."""
