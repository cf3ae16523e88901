"""Bench documents with each of their numbers in turn replaced by one nobody could have read."""

import contextlib
import copy
import json
import warnings
from collections.abc import Callable, Iterator
from typing import Any

from agency.diagnostics.evaluation import Evaluation
from agency.errors import DocumentRefused

from .examples import evaluate

HEAD = {"client_key", "taken_at", "units", "gauge"}
WRONG = (0.0, 1e300, -1e300, -7.5, 1e-12, 1e12)


def assert_every_number_may_be_wrong(
    document: dict[str, Any], *, judge: Callable[[dict[str, Any]], Evaluation] = evaluate
) -> None:
    """Each wrong number is refused in words or leads to an evaluation of finite figures."""
    evaluations = []
    for changed in _with_wrong_numbers(document):
        with contextlib.suppress(DocumentRefused), warnings.catch_warnings():
            # Absurd readings overflow on the way to being refused.
            warnings.simplefilter("ignore", RuntimeWarning)
            evaluations.append(judge(changed))
    assert evaluations
    for one in evaluations:
        json.dumps(one.as_dict(), allow_nan=False)


def _with_wrong_numbers(document: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for path in numbers_in(document):
        for wrong in WRONG:
            changed = copy.deepcopy(document)
            place: Any = changed
            for step in path[:-1]:
                place = place[step]
            place[path[-1]] = wrong
            yield changed


def numbers_in(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Paths of all numbers outside the head of the document."""
    if isinstance(value, dict):
        for name, one in value.items():
            if path or name not in HEAD:
                yield from numbers_in(one, (*path, name))
    elif isinstance(value, list):
        for number, one in enumerate(value):
            yield from numbers_in(one, (*path, number))
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield path
