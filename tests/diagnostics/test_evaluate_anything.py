"""Whatever numbers a document holds, the evaluation answers and can be stored."""

import json
import warnings

from hypothesis import given, settings
from hypothesis import strategies as st

from agency.diagnostics.documents import parse
from agency.errors import DocumentRefused

from .examples import E779, ISO, ONE_POINT, evaluate, example
from .wrong_numbers import numbers_in

PLACES = [(name, path) for name in (E779, ISO, ONE_POINT) for path in numbers_in(example(name))]
NUMBERS = (
    st.floats(allow_nan=False, allow_infinity=False)
    | st.sampled_from([0.0, -0.0, 1e-308, 1e308, -1e308, 5e-324])
    | st.floats(min_value=-200, max_value=400)
)


@settings(max_examples=150, deadline=None)
@given(place=st.sampled_from(PLACES), number=NUMBERS, other=NUMBERS)
def test_any_number_anywhere_is_answered(place, number, other):
    name, path = place
    data = example(name)
    here = data
    for step in path[:-1]:
        here = here[step]
    here[path[-1]] = number
    data["series"][0]["points"][0]["building_pressure"] += other if abs(other) < 5 else 0.0
    try:
        parse(data)
    except DocumentRefused:
        return
    with warnings.catch_warnings():
        # Absurd readings overflow on the way to being refused.
        warnings.simplefilter("ignore", RuntimeWarning)
        evaluation = evaluate(data)
    json.dumps(evaluation.as_dict(), allow_nan=False)
    if evaluation.verdict == "not_computed":
        assert evaluation.flow_50 is None
        assert any(check["status"] == "reject" and check["message"] for check in evaluation.checks)
    else:
        assert evaluation.flow_50 > 0
