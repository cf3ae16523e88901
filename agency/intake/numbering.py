"""The number that follows another: its last digits counted on."""

import re


def number_after(newest: str | None, *, first: str) -> str:
    """ "QC-26-0099" is followed by "QC-26-0100"; without a newest, or digits in it, `first`."""
    found = re.fullmatch(r"(.*?)(\d+)", newest or "")
    if found is None:
        return first
    head, digits = found.groups()
    return f"{head}{int(digits) + 1:0{len(digits)}}"
