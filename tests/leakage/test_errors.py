"""The text of a refusal, and that it survives the queue."""

import pickle

import pytest

from agency.leakage.errors import LeakageError, OutOfRange, TooFewPoints


def test_text_is_made_of_its_parts():
    """Field, value, limit and next step."""
    error = TooFewPoints(
        quantity="Number of used points", value=4, limit="at least 5", next_step="Take one more."
    )
    assert str(error) == "Number of used points is 4; it must be at least 5. Take one more."


def test_unit_follows_value_and_limit():
    """Both have it."""
    error = OutOfRange(quantity="Fan pressure", value=12.5, unit="Pa", limit="at least 25")
    assert str(error) == "Fan pressure is 12.5 Pa; it must be at least 25 Pa."


def test_missing_value_is_said_to_be_missing():
    """None is not measured, and carries no unit; zero is a reading."""
    missing = OutOfRange(quantity="Fan pressure", value=None, unit="Pa", limit="at least 25")
    zero = OutOfRange(quantity="Fan pressure", value=0, unit="Pa", limit="at least 25")
    assert str(missing) == "Fan pressure is not given; it must be at least 25 Pa."
    assert str(zero).startswith("Fan pressure is 0 Pa;")


@pytest.mark.parametrize("error", [LeakageError("As it is."), OutOfRange(quantity="x", value=1)])
def test_refusal_crosses_the_queue(error):
    """Pickled by the worker, with its parts."""
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is type(error)
    assert (str(again), again.quantity, again.value) == (str(error), error.quantity, error.value)
