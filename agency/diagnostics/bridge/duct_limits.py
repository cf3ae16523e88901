"""Duct leakage however it was read: per floor area, per handler flow, and against its limit."""

from dataclasses import dataclass, field

from agency.leakage.ducts import allowed_leakage, leakage_per_floor_area, leakage_share
from agency.wording import words

from ..evaluation import Check, Step
from .bench import Bench
from .findings import Shown, step
from .si import FLOW, LENGTH

CFM = FLOW["cfm"]
PER_100_SQFT = CFM / (100 * LENGTH["ft"] ** 2)
"""One cfm/100 ft², the unit of the limits. [m³/(s m²)]"""
DIVISION = ("definition", "derived")


@dataclass(frozen=True, slots=True, kw_only=True)
class Leakage:
    """Leakage at the reference pressure, with the checks and steps of its method."""

    flow: float | None
    """None: not determined; `note` says why. [m³/s]"""
    u_flow: float
    """Standard uncertainty, k = 1. [m³/s]"""
    note: str = ""
    checks: list[Check] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)
    shown: list[Shown] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Normalised:
    """Duct leakage against the size of the house and of its air handler. None: not known."""

    flow: float | None
    """[m³/s]"""
    floor_area: float | None
    """[m²]"""
    handler_flow: float | None
    """[m³/s]"""
    per_area: float | None
    """[m³/(s m²)]"""
    share: float | None
    """[-]"""


def normalised(bench: Bench, flow: float | None) -> Normalised:
    """Leakage per floor area and as a share of the air-handler flow of an earlier test."""
    area, handler = bench.floor_area, bench.earlier("air_handler", "flow")
    return Normalised(
        flow=flow,
        floor_area=area,
        handler_flow=handler,
        per_area=None
        if flow is None or area is None
        else float(leakage_per_floor_area(flow=flow, floor_area=area)),
        share=None
        if flow is None or handler is None
        else float(leakage_share(flow=flow, air_handler_flow=handler)),
    )


def normalised_figures(found: Normalised) -> list[Shown]:
    """Both as they are shown, with what is missing."""
    return [
        Shown(
            name="Per floor area",
            quantity="flow_per_floor_area",
            value=found.per_area,
            note="" if found.floor_area else "floor area not known",
        ),
        Shown(
            name="Share of the air-handler flow",
            quantity="share",
            value=found.share,
            note="a flow at the test pressure over a flow in operation"
            if found.handler_flow
            else "no air-handler flow of this job",
        ),
    ]


def normalising_steps(found: Normalised) -> list[Step]:
    """Both divisions, where they were made."""
    steps = []
    if found.per_area is not None:
        steps.append(
            step("Leakage per floor area", "q = Q/A", found.per_area, "m³/(s m²)",
                 source=DIVISION, Q=found.flow, A=found.floor_area)
        )  # fmt: skip
    if found.share is not None:
        steps.append(
            step("Share of the air-handler flow", "s = Q/Q_handler", found.share, "",
                 source=DIVISION, Q=found.flow, Q_handler=found.handler_flow)
        )  # fmt: skip
    return steps


def limit_checks(bench: Bench, *, side: str, found: Normalised) -> list[Check]:
    """The limit the document names for its stage; one the rule book does not hold never passes."""
    named, book = bench.document.held_against, bench.book
    if named == "none":
        return []
    unsettled = book.rule(f"ducts.limit.{named}.unsettled")
    if unsettled is not None:
        told = f"{unsettled.standard} {unsettled.edition}: {unsettled.source}."
        return book.check(unsettled.code, None, field="held_against", message=told)
    code = _code(bench, side)
    if book.rule(code) is None:
        told = (
            f"The rule book holds no limit for this test: {words.coded(named)}, "
            f"{words.coded(bench.document.stage).lower()}."
        )
        return book.check("ducts.limit-known", None, field="held_against", message=told)
    least = f"{code}.least"
    cfm = None if found.flow is None else found.flow / CFM
    if cfm is not None and book.rule(least) is not None and book.holds(least, cfm):
        return book.check(least, cfm, field="flow")
    per_100 = None if found.per_area is None else found.per_area / PER_100_SQFT
    return book.check(code, per_100, field="house.floor_area")


def allowed_flow(bench: Bench, *, side: str) -> float | None:
    """The limit as a flow of this house; None without a limit or a floor area. [m³/s]"""
    code, area = _code(bench, side), bench.floor_area
    limit = bench.book.limit_of(code)
    if limit is None or area is None:
        return None
    least = bench.book.limit_of(f"{code}.least") or 0.0
    return float(allowed_leakage(floor_area=area, per_area=limit * PER_100_SQFT, least=least * CFM))


def _code(bench: Bench, side: str) -> str:
    document = bench.document
    code = f"ducts.limit.{document.held_against}.{side}.{document.stage}"
    inside = f"{code}.all_inside"
    all_inside = document.location == "all_inside" and bench.book.rule(inside) is not None
    return inside if all_inside else code
