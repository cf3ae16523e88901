"""Figures of an estimate turned at the desk; what the formulas refuse comes back in words."""

from typing import Any

from agency.errors import ActionRefused

from .bridge.packages import WhatIf as Turned
from .bridge.packages import assumed, what_if
from .measures_inputs import MeasuresInputs
from .weather_year import WeatherYear

__all__ = ["Turned", "assumed", "turned_figures"]


def turned_figures(inputs: MeasuresInputs, weather: WeatherYear, turned: Turned) -> dict[str, Any]:
    """The central figures with the sliders as turned.

    Raises
    ------
    ActionRefused
        With the formulas' own words.
    """
    try:
        return what_if(inputs, weather, turned)
    except ValueError as refused:
        text = str(refused)
        raise ActionRefused(text[:1].upper() + text[1:]) from refused
