"""Photos as cameras make them, and files made to harm whoever reads them."""

import struct
import zlib
from io import BytesIO

from PIL import Image
from PIL.TiffImagePlugin import IFDRational

SECRETS = (b"GPSLAT-SECRET", b"SERIAL-SECRET", b"XMP-SECRET", b"COMMENT-SECRET", b"THUMB-SECRET")


def picture(width=640, height=480, kind="JPEG", **saved):
    """Left half red, right half blue, so that turning shows."""
    image = Image.new("RGB", (width, height), (200, 30, 30))
    image.paste((30, 30, 200), (width // 2, 0, width, height))
    body = BytesIO()
    image.save(body, kind, **saved)
    return body.getvalue()


def telling_picture(orientation=1):
    """A JPEG with place, serial number, XMP, comment and a trailing text hidden in it."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "SERIAL-SECRET"
    exif.get_ifd(0x8769)[0xA431] = "SERIAL-SECRET"
    place = exif.get_ifd(0x8825)
    place[1], place[2] = "N", (IFDRational(41), IFDRational(53), IFDRational(7))
    place[29] = "GPSLAT-SECRET"
    return (
        picture(exif=exif.tobytes(), xmp=b"<x>XMP-SECRET</x>", comment=b"COMMENT-SECRET")
        + b"THUMB-SECRET<script>alert(1)</script>"
    )


def png_bomb(side=50_000):
    """A PNG of some kilobytes that says it has side x side pixels."""

    def chunk(name, body):
        return (
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        )

    header = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    rows = zlib.compress(bytes(1 + side // 8) * 200)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    )


def exif_loop():
    """A JPEG whose EXIF directory leads back to itself."""
    ifd = struct.pack("<H", 1) + struct.pack("<HHII", 0x8769, 4, 1, 8) + struct.pack("<I", 8)
    exif = b"Exif\x00\x00" + b"II*\x00" + struct.pack("<I", 8) + ifd
    body = picture()
    return body[:2] + b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif + body[2:]


SVG = (
    b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
)
HEIC = b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + bytes(400)
HOSTILE = {
    "empty": b"",
    "text": b"not a photo at all",
    "svg": SVG,
    "svg after blanks": b"\n\n   " + SVG,
    "page": b"<!DOCTYPE html><script>alert(1)</script>",
    "heic": HEIC,
    "pdf": b"%PDF-1.7\n1 0 obj",
    "gif": b"GIF89a\x01\x00\x01\x00\x80\x00\x00\x00\x00\x00\xff\xff\xff,\x00\x00\x00\x00",
    "zip": b"PK\x03\x04" + bytes(60),
    "half a photo": picture()[:900],
    "head of a photo": b"\xff\xd8\xff\xe0\x00\x10JFIF",
    "png bomb": png_bomb(),
    "cut png": picture(kind="PNG")[:80],
    "nothing but zeros": bytes(4096),
}
