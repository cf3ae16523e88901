"""Photos made anew: upright, bounded, silent about where and with what they were taken."""

import resource
import time
from io import BytesIO

import pytest
from PIL import Image, ImageFile

from agency.diagnostics.pictures import clean_picture
from agency.errors import DocumentRefused

from .pictures import HOSTILE, SECRETS, exif_loop, picture, png_bomb, telling_picture


def opened(body):
    image = Image.open(BytesIO(body))
    image.load()
    return image


def looks(pixel, colour):
    return all(abs(one - other) < 25 for one, other in zip(pixel, colour, strict=True))


def test_nothing_but_the_pixels_is_left():
    sent = telling_picture()
    assert all(secret in sent for secret in SECRETS)
    made = clean_picture(sent)
    for body in (made.large, made.small):
        assert not [secret for secret in (*SECRETS, b"Exif", b"<script") if secret in body]
        image = opened(body)
        assert image.format == "JPEG"
        assert not image.getexif()
        assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


@pytest.mark.parametrize(
    ("orientation", "size", "top_left", "bottom_left"),
    [
        # EXIF 2.3, tag 274, from memory: 1 as stored, 3 turned half round, 6 to be turned
        # clockwise by a quarter, 8 counterclockwise.
        (1, (640, 480), "red", "red"),
        (3, (640, 480), "blue", "blue"),
        (6, (480, 640), "red", "blue"),
        (8, (480, 640), "blue", "red"),
    ],
)
def test_a_photo_stands_upright(orientation, size, top_left, bottom_left):
    made = clean_picture(telling_picture(orientation))
    colours = {"red": (200, 30, 30), "blue": (30, 30, 200)}
    image = opened(made.large)
    assert image.size == (made.width, made.height) == size
    assert looks(image.getpixel((20, 20)), colours[top_left])
    assert looks(image.getpixel((20, size[1] - 20)), colours[bottom_left])


@pytest.mark.parametrize(
    ("size", "made"),
    [((4000, 3000), (2048, 1536)), ((300, 3000), (205, 2048)), ((64, 48), (64, 48))],
)
def test_a_photo_is_shrunk_in_proportion_and_never_enlarged(size, made):
    done = clean_picture(picture(*size))
    assert (done.width, done.height) == pytest.approx(made, abs=1)
    assert max(opened(done.small).size) <= 320


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_photos_become_jpeg(kind):
    assert opened(clean_picture(picture(kind=kind)).large).format == "JPEG"


def test_what_is_see_through_becomes_white_paper():
    body = BytesIO()
    Image.new("RGBA", (50, 50), (0, 0, 0, 0)).save(body, "PNG")
    assert looks(opened(clean_picture(body.getvalue()).large).getpixel((25, 25)), (255, 255, 255))


@pytest.mark.parametrize("mode", ["L", "1", "P", "CMYK", "I;16"])
def test_every_way_of_storing_pixels_is_read(mode):
    body = BytesIO()
    kind = "JPEG" if mode == "CMYK" else "PNG"
    Image.new(mode, (40, 30)).save(body, kind)
    assert opened(clean_picture(body.getvalue()).large).mode == "RGB"


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_no_photo_is_refused_in_words_quickly_and_in_little_memory(name):
    before, began = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.monotonic()
    with pytest.raises(DocumentRefused) as refusal:
        clean_picture(HOSTILE[name])
    assert time.monotonic() - began < 2
    # [kB]
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 64_000
    [reason] = refusal.value.reasons
    assert reason.field == "file"
    assert reason.message
    assert reason.next_step


@pytest.mark.parametrize("name", ["half a photo", "cut png"])
def test_half_a_photo_is_refused_even_where_a_library_lets_it_pass(name, monkeypatch):
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    with pytest.raises(DocumentRefused):
        clean_picture(HOSTILE[name])


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("heic", "heic"),
        ("png bomb", "too_many_pixels"),
        ("svg", "not_a_photo"),
        ("empty", "empty"),
        ("gif", "not_a_photo"),
    ],
)
def test_each_kind_of_refusal_has_its_code(name, code):
    with pytest.raises(DocumentRefused) as refusal:
        clean_picture(HOSTILE[name])
    assert refusal.value.reasons[0].code == code


def test_a_few_pixels_too_many_are_refused_and_as_many_as_allowed_are_taken():
    with pytest.raises(DocumentRefused, match="too many pixels") as refusal:
        clean_picture(png_bomb(5008))
    assert refusal.value.reasons[0].limit == "25,000,000 pixels"
    body = BytesIO()
    Image.new("1", (5000, 5000)).save(body, "PNG")
    assert clean_picture(body.getvalue()).width == 2048


def test_a_directory_that_leads_back_to_itself_does_not_hang():
    began = time.monotonic()
    assert clean_picture(exif_loop()).width == 640
    assert time.monotonic() - began < 2
