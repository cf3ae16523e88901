"""An estimate of measures in sentences a client can read; figures come in already rounded."""

from collections.abc import Mapping
from typing import Any

MODELLED = (
    "These figures are worked out from the house, its fan tests and a typical weather year; "
    "a real year will differ."
)


def step_sentence(name: str, saved: Mapping[str, Any]) -> str:
    """What one measure saves in its first year, on top of those before it."""
    dollars = saved["dollars"]
    if dollars is None:
        shown = saved["mmbtu"]["shown"]
        return f"{name}: {_range(shown, '', ' million Btu')} a year."
    return f"{name}: {_range(dollars['shown'], '$', '')} a year."


def package_sentences(figures: Mapping[str, Any]) -> list[str]:
    """What the whole package does, most important first."""
    sentences = []
    total, package = figures["total"], figures["package"]
    if total["dollars"] is not None:
        sentences.append(
            f"All measures together: {_range(total['dollars']['shown'], '$', '')} a year."
        )
    else:
        shown = total["mmbtu"]["shown"]
        sentences.append(f"All measures together: {_range(shown, '', ' million Btu')} a year.")
    if package is not None:
        sentences.append(_worth(package))
    return [*sentences, MODELLED]


def _worth(package: Mapping[str, Any]) -> str:
    if package["sir"] is None:
        return "Nothing is spent on measures that save energy."
    says = "pay for themselves" if package["passes"] else "do not pay for themselves"
    sir = int(package["sir"] * 100) / 100
    return (
        f"Over their lifetimes the measures {says}: each dollar spent returns about ${sir:.2f} of "
        "energy, counted in today's money."
    )


def _range(shown: Mapping[str, float], before: str, after: str) -> str:
    """ "$120 to $210 less, most likely about $160", or more where it costs energy."""
    low, central, high = (shown[name] for name in ("low", "central", "high"))

    def said(value: float) -> str:
        return f"{before}{_plain(abs(value))}{after}"

    if low == high == 0:
        return "no saving"
    if high <= 0:
        return f"{said(high)} to {said(low)} more, most likely about {said(central)}"
    if low < 0:
        return (
            f"between {said(low)} more and {said(high)} less, most likely {_likely(central, said)}"
        )
    return f"{said(low)} to {said(high)} less, most likely about {said(central)}"


def _likely(central: float, said: Any) -> str:
    return f"about {said(central)} {'less' if central >= 0 else 'more'}"


def _plain(value: float) -> str:
    """Thousands commas and only the digits the rounding left."""
    return f"{value:,.10g}"
