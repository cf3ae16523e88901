"""The hash that tells whether two figures rest on the same inputs."""

import hashlib
import json
from collections.abc import Mapping
from typing import Any


def hash_of(inputs: Mapping[str, Any], *, method: str, edition: str, maths_version: str) -> str:
    """SHA-256 over inputs, method, edition and maths version."""
    basis = {
        "method": method,
        "edition": edition,
        "maths_version": maths_version,
        "inputs": inputs,
    }
    text = json.dumps(basis, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()
