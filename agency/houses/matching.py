"""Whether two addresses are the same dwelling: by parcel and unit, or by street and unit."""

import re
from typing import Protocol

SPELLED = {
    "ave": "avenue", "av": "avenue", "blvd": "boulevard", "cir": "circle", "ct": "court",
    "dr": "drive", "hwy": "highway", "ln": "lane", "pl": "place", "rd": "road", "sq": "square",
    "st": "street", "ter": "terrace", "trl": "trail", "n": "north", "s": "south", "e": "east",
    "w": "west", "ne": "northeast", "nw": "northwest", "se": "southeast", "sw": "southwest",
    "co": "county",
}  # fmt: skip
"""Common postal shortenings; common practice, no source."""
UNIT_WORDS = {"unit", "apt", "apartment", "suite", "ste", "no", "lot", "number"}


class Placed(Protocol):
    """Anything with the address of a dwelling."""

    @property
    def address(self) -> str: ...
    @property
    def unit(self) -> str: ...
    @property
    def postal_code(self) -> str: ...
    @property
    def parcel(self) -> str: ...


def street_key(address: str) -> str:
    """The street address without case, marks and shortenings: "27 heron pond road".

    A first word "st" is a saint, not a street; so is one before the last word.
    """
    words = _words(address)
    last = len(words) - 1
    return " ".join(
        "saint" if word == "st" and place < last else SPELLED.get(word, word)
        for place, word in enumerate(words)
    )


def unit_key(unit: str) -> str:
    """The unit without the word for it: "Apt. B" is "b"."""
    return "".join(word for word in _words(unit) if word not in UNIT_WORDS)


def parcel_key(parcel: str) -> str:
    """The parcel number's letters and digits."""
    return "".join(_words(parcel))


def house_number(address: str) -> str:
    """The first word of an address, by which candidates are fetched."""
    return address.split(" ", 1)[0] if address else ""


def how_the_same(one: Placed, other: Placed) -> str:
    """In which words two records are one dwelling; empty when they are not."""
    if unit_key(one.unit) != unit_key(other.unit):
        return ""
    if one.parcel and parcel_key(one.parcel) == parcel_key(other.parcel):
        return f"same parcel {one.parcel} and unit"
    same_place = one.postal_code[:5] == other.postal_code[:5]
    if same_place and street_key(one.address) == street_key(other.address):
        return "same address and unit"
    return ""


def _words(text: str) -> list[str]:
    return re.findall(r"\w+", text.casefold().replace("’", "").replace("'", ""))
