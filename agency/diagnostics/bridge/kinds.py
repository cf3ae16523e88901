"""Which part of the bridge evaluates which kind of test."""

from collections.abc import Iterable, Mapping
from typing import cast

from agency.rulebook.shipped import RuleLike

from ..document_parts import TestDocument
from ..evaluation import Context, Evaluation
from ..forms.envelope import EnvelopeDocument
from .air_handler import air_handler_findings
from .attached import attached_findings
from .bench import Formulas, evaluate_bench
from .combustion_zone import combustion_findings
from .component import component_findings
from .document import NO_CONTEXT, evaluate_document
from .duct_leakage import duct_leakage_findings
from .duct_sweep import duct_sweep_findings
from .exhaust_fans import exhaust_findings
from .gauge_check import gauge_check_findings
from .pressure_pan import pressure_pan_findings
from .register_flows import register_flows_findings
from .room_balance import room_balance_findings
from .si import turned
from .static_pressure import static_pressure_findings
from .ventilation_need import ventilation_findings
from .zone import zone_findings
from .zone_network import network_findings

BENCH: Mapping[str, Formulas] = {
    "attached": attached_findings,
    "component": component_findings,
    "combustion_zone": combustion_findings,
    "exhaust_fans": exhaust_findings,
    "ventilation_need": ventilation_findings,
    "duct_leakage": duct_leakage_findings,
    "pressure_pan": pressure_pan_findings,
    "duct_sweep": duct_sweep_findings,
    "air_handler": air_handler_findings,
    "static_pressure": static_pressure_findings,
    "room_balance": room_balance_findings,
    "register_flows": register_flows_findings,
    "gauge_check": gauge_check_findings,
    "zone": zone_findings,
    "zone_network": network_findings,
}
"""Formulas by a document's `kind`; a further kind of test is one more entry."""


def evaluate(
    document: TestDocument, *, rules: Iterable[RuleLike], context: Context = NO_CONTEXT
) -> Evaluation:
    """Figures, checks and verdict of one test of any kind."""
    document = turned(document, context.swapped)
    if document.kind in BENCH:
        formulas = BENCH[document.kind]
        return evaluate_bench(document, formulas=formulas, rules=rules, context=context)
    return evaluate_document(cast(EnvelopeDocument, document), rules=rules, context=context)
