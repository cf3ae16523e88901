"""The check of a gauge on a visit: zeros and hoses against the rule book."""

from typing import Any

from ..evaluation import Check
from .bench import Bench
from .book import Book
from .findings import Answer, Findings, Shown, answer_of, state_of

FALL_TIME = 30.0
"""Time the fall of a hose's pressure is stated for, by the unit of the rule. [s]"""


def gauge_check_findings(bench: Bench) -> Findings:
    """Zero of each channel, and the fall of each hose's pressure."""
    document, book = bench.document, bench.book
    limits: list[Check] = []
    bars, shown = [], []
    for number, one in enumerate(document.zeros):
        size = None if one.reading is None else abs(one.reading)
        name = f"Zero of channel {one.channel}"
        told = book.check("gauge-check.zero", size, field=f"zeros[{number}].reading")
        shown.append(Shown(name=name, quantity="pressure", value=one.reading))
        limits += told
        bars.append(_bar(name, size, told, book.limit_of("gauge-check.zero")))
    for number, one in enumerate(document.hoses):
        fall = _fall(one)
        name = f"Hose {one.hose}: fall in 30 s"
        told = book.check("gauge-check.hose-fall", fall, field=f"hoses[{number}].end")
        told += _start_check(one.start, f"hoses[{number}].start", book)
        shown.append(Shown(name=name, quantity="pressure", value=fall))
        limits += told
        bars.append(_bar(name, fall, told[:1], book.limit_of("gauge-check.hose-fall")))
    answer = answer_of(limits)
    if answer is Answer.MET and not document.hoses:
        answer = Answer.OPEN
    return Findings(
        method="Zero and hose check",
        edition="",
        answer=answer,
        words=WORDS[answer],
        shown=shown,
        limits=limits,
        drawing={
            "type": "bars",
            "title": "Zero and hoses",
            "measure": "Pressure",
            "quantity": "pressure",
            "bars": bars,
        },
        details={"serial": bench.sent.gauge.serial if bench.sent.gauge else ""},
    )


WORDS = {
    Answer.MET: "The gauge reads zero at zero and every hose holds.",
    Answer.MISSED: "The gauge or a hose did not pass; no test of this visit rests on a good check.",
    Answer.OPEN: "Not every channel and hose was checked.",
    Answer.FOUND: "The rule book holds no limit for the check.",
}


def _fall(hose: Any) -> float | None:
    """Fall of a hose's pressure over 30 s; None where a reading is missing. [Pa]"""
    if None in (hose.start, hose.end, hose.seconds):
        return None
    return float((abs(hose.start) - abs(hose.end)) * FALL_TIME / hose.seconds)


def _start_check(start: float | None, field: str, book: Book) -> list[Check]:
    size = None if start is None else abs(start)
    return book.complaint("gauge-check.hose-start", size, field=field)


def _bar(name: str, value: float | None, told: list[Check], limit: float | None) -> dict[str, Any]:
    return {"label": name, "value": value, "high": limit, "state": state_of(told)}
