"""Goes through all issued papers and names each whose row, file or place is changed."""

import hashlib
from collections.abc import Iterator

from . import chain
from .models import Certificate


def faults() -> Iterator[str]:
    """Every fault in words, in the order of issue; none when the papers are as they were issued.

    A paper removed at the very end leaves no trace here; keep the last line this check prints.
    """
    last: Certificate | None = None
    for paper in Certificate.objects.in_order().iterator():
        expected = last.position + 1 if last else 1
        if paper.position != expected:
            yield f"{paper} stands at {paper.position} where {expected} is due: a paper is missing."
        if paper.content_hash != paper.hashed_content():
            yield f"{paper} does not say what it said when it was issued."
        if paper.chain_hash != chain.link(
            last.chain_hash if last else chain.FIRST, paper.content_hash
        ):
            yield f"{paper} is not linked to the paper before it."
        yield from _file_fault(paper)
        last = paper


def _file_fault(paper: Certificate) -> Iterator[str]:
    try:
        with paper.file.open("rb") as stored:
            hashed = hashlib.sha256(stored.read()).hexdigest()
    except (FileNotFoundError, ValueError):
        yield f"The file of {paper} is not in the store."
        return
    if hashed != paper.file_hash:
        yield f"The file of {paper} is not the one that was issued."
