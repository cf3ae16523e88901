"""An address as a square picture for a phone's camera."""

import segno


def square(text: str, *, title: str) -> str:
    """The QR code (ISO/IEC 18004) of `text` as SVG with a title that is read aloud."""
    code = segno.make(text, error="m", micro=False)
    drawn: str = code.svg_inline(title=title, dark="#221C2B", light="#FFFFFF", omitsize=True)
    return drawn
