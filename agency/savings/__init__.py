"""Energy and money saved, as pure formulas: numbers in, numbers or a refusal out."""
