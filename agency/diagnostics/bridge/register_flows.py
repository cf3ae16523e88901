"""Register flows: each against its design, and both sides summed."""

from agency.leakage.line import NORMAL_QUANTILE
from agency.leakage.register_flows import share_of_design, total_flow, total_uncertainty

from ..evaluation import Check
from ..forms.register_flows import Register
from .bench import Bench
from .findings import Findings, Shown, answer_of, spoken, state_of, step

DESIGN = "registers.share-of-design"
SUM = ("sum of the registers; JCGM 100, 5.2.2", "from memory")


def register_flows_findings(bench: Bench) -> Findings:
    """Supply and return flow, and every register that has a design flow held against it."""
    registers: list[Register] = bench.document.registers
    judged = [_judged(bench, number, one) for number, one in enumerate(registers)]
    limits = [check for checks in judged for check in checks]
    supply, back = (_side(bench, side) for side in ("supply", "return"))
    handler = bench.earlier("air_handler", "flow")
    return Findings(
        method="Register flows",
        edition="agency",
        answer=answer_of(limits),
        words=_words(registers, limits),
        shown=[
            supply,
            back,
            Shown(
                name="Supply over the air-handler flow of an earlier test",
                quantity="share",
                value=supply.value / handler if supply.value is not None and handler else None,
                note="" if handler else "no air-handler flow in this job",
            ),
        ],
        limits=limits,
        steps=[
            step(f"{one.name}", "Q = Σ Q_i", one.value, "m³/s", source=SUM)
            for one in (supply, back)
        ],
        drawing={
            "type": "bars",
            "title": "Flow of each register",
            "measure": "Flow",
            "quantity": "flow",
            "bars": [
                {
                    "label": one.name,
                    "value": one.flow,
                    "low": _design_part(bench, one, low=True),
                    "high": _design_part(bench, one, low=False),
                    "state": state_of(checks),
                }
                for one, checks in zip(registers, judged, strict=True)
            ],
        },
        details={"supply": supply.value, "return": back.value},
    )


def _judged(bench: Bench, number: int, register: Register) -> list[Check]:
    """A register without a design flow is not judged; one that was not read is left open."""
    if register.design_flow is None:
        return []
    share = (
        None
        if register.flow is None
        # Turning both into SI leaves an error in the last digits; a limit met is not missed by it.
        else round(float(share_of_design(flow=register.flow, design=register.design_flow)), 12)
    )
    words = f"{register.name}: " + (
        "not read." if share is None else f"{100 * share:.0f} % of its design flow."
    )
    return bench.book.check(DESIGN, share, field=f"registers[{number}].flow", message=words)


def _side(bench: Bench, side: str) -> Shown:
    """The sum of one side with its 95 % interval; no sum where one of its registers is blank."""
    flows = [one.flow for one in bench.document.registers if one.side == side]
    name = f"All {side} registers"
    total = total_flow(flows)
    if total is None:
        note = "not every register was read" if flows else f"no {side} register listed"
        return Shown(name=name, quantity="flow", value=None, note=note)
    u = float(
        total_uncertainty(
            flows=flows,
            u_hood=bench.book.setting(f"registers.u-{bench.document.method.replace('_', '-')}"),
            u_reading=bench.book.setting("registers.u-reading"),
        )
    )
    half = NORMAL_QUANTILE * u
    return Shown(name=name, quantity="flow", value=total, low=total - half, high=total + half)


def _design_part(bench: Bench, register: Register, *, low: bool) -> float | None:
    rule = bench.book.rule(DESIGN)
    edge = None if rule is None else (rule.low if low else rule.high)
    if edge is None or register.design_flow is None:
        return None
    return edge * register.design_flow


def _words(registers: list[Register], limits: list[Check]) -> str:
    if not limits:
        return f"{len(registers)} registers read; none has a design flow to be held against."
    return spoken(limits)
