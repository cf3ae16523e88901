"""The chain of issued papers: each holds the hash of what it says and of the one before it.

A figure or a file changed later no longer gives the stored hash; a row taken out or slipped in
breaks every link after it.
"""

import hashlib
import json
from collections.abc import Mapping
from typing import Any

FIRST = "0" * 64
"""Stands for the paper before the first."""


def hash_of(value: Any) -> str:
    """SHA-256 of plain data, whatever the order of its names."""
    # A database keeps -0.0 as 0.0, and the hash must be the same when the row is read again.
    kept = json.loads(json.dumps(value), parse_float=lambda text: float(text) + 0.0)
    return hashlib.sha256(json.dumps(kept, sort_keys=True).encode()).hexdigest()


def content_hash(
    *, figures: Mapping[str, Any], file_hash: str, issued_at: str, reason: str, replaces: str
) -> str:
    """Hash of all that one paper says: its figures, its file, when, why and instead of which."""
    return hash_of(
        {
            "figures": figures,
            "file": file_hash,
            "issued_at": issued_at,
            "reason": reason,
            "replaces": replaces,
        }
    )


def link(previous: str, content: str) -> str:
    """Hash of a paper's content and of the chain up to the paper before it."""
    return hashlib.sha256(f"{previous} {content}".encode()).hexdigest()
