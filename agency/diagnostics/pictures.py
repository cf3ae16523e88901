"""A photo as it came becomes a plain JPEG of bounded size that tells nothing but what it shows."""

import warnings
from dataclasses import dataclass
from io import BytesIO
from typing import NoReturn

from PIL import Image, ImageFile, ImageOps

from agency.errors import DocumentRefused, FieldReason

MOST_PIXELS = 25_000_000
"""Of a photo as it came. Own choice: twice what phones take, and decoded in 75 MB."""
LONGEST_SIDE = 2048
"""Of a stored photo. Own choice: a label across the room stays readable. [px]"""
SMALL_SIDE = 320
"""Of the picture shown in lists. Own choice. [px]"""
QUALITY = {"large": 82, "small": 75}
"""JPEG quality. Own choice, by eye."""
FORMATS = ("JPEG", "PNG", "WEBP")
HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1")
"""Major brands of ISO/IEC 23008-12 files, from memory."""

# The library warns of many pixels and refuses only twice as many; here the first is enough.
Image.MAX_IMAGE_PIXELS = MOST_PIXELS
warnings.simplefilter("error", Image.DecompressionBombWarning)


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One photo, made anew from its pixels."""

    large: bytes
    small: bytes
    width: int
    height: int


def clean_picture(body: bytes) -> Picture:
    """The photo upright, at most `LONGEST_SIDE`, without any of the data it carried; or refused."""
    _refuse_by_its_beginning(body)
    try:
        image = _decoded(body)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        _refuse(
            "too_many_pixels",
            "The photo has too many pixels.",
            limit=f"{MOST_PIXELS:,} pixels",
            next_step="Take it again with a smaller picture size.",
        )
    except Exception as fault:
        # On bytes made to harm them, decoders raise anything.
        _refuse(
            "not_a_photo",
            f"This is not a photo that can be read ({type(fault).__name__}).",
            limit=", ".join(FORMATS),
            next_step="Take the photo again; the app sends it as JPEG.",
        )
    small = image.copy()
    small.thumbnail((SMALL_SIDE, SMALL_SIDE), Image.Resampling.LANCZOS)
    return Picture(
        large=_jpeg(image, QUALITY["large"]),
        small=_jpeg(small, QUALITY["small"]),
        width=image.width,
        height=image.height,
    )


def _decoded(body: bytes) -> Image.Image:
    """The pixels alone, in a new image to which no metadata is attached."""
    # The renderer of papers, once imported, lets half a picture pass; half a photo must not.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    with Image.open(BytesIO(body), formats=FORMATS) as opened:
        opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
        opened.load()
        upright = ImageOps.exif_transpose(opened)
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.LANCZOS)
    plain = Image.new("RGB", upright.size, "white")
    if upright.has_transparency_data:
        layer = upright.convert("RGBA")
        plain.paste(layer, mask=layer.getchannel("A"))
    else:
        plain.paste(upright.convert("RGB"))
    return plain


def _jpeg(image: Image.Image, quality: int) -> bytes:
    body = BytesIO()
    image.save(body, "JPEG", quality=quality, optimize=True)
    return body.getvalue()


def _refuse_by_its_beginning(body: bytes) -> None:
    """Kinds of file that people do send, each by its name."""
    start = body[:1024].lstrip()
    if not body:
        _refuse("empty", "The file is empty.", next_step="Take the photo again.")
    if body[4:8] == b"ftyp" and body[8:12] in HEIF_BRANDS:
        _refuse(
            "heic",
            "This is an HEIC photo, which cannot be read here.",
            limit=", ".join(FORMATS),
            next_step="Take it in the app, or set the camera to save JPEG.",
        )
    if start.startswith(b"<"):
        _refuse(
            "not_a_photo",
            "This is a drawing or a page, not a photo.",
            limit=", ".join(FORMATS),
            next_step="Send a photo taken with the camera.",
        )


def _refuse(code: str, message: str, *, next_step: str, limit: str | None = None) -> NoReturn:
    reason = FieldReason(field="file", code=code, message=message, limit=limit, next_step=next_step)
    raise DocumentRefused([reason])
