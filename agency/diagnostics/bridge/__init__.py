"""The bridge to the formulas: records in, plain numbers through, figures out."""
