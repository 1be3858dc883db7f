"""Photos: judged by content, bounded, shown upright and without metadata."""

import io
import struct
import zlib
from datetime import timedelta
from uuid import uuid4

import pytest
from PIL import Image

from core import files, limits
from core.models import StoredFile
from core.problem import BadInput, Conflict
from jobs import photos
from jobs.models import Photo
from tests import factories
from tests.factories import AT

pytestmark = pytest.mark.django_db

ORIENTATION, MAKE, GPS = 0x0112, 0x010F, 0x8825
"""EXIF 2.32 tags: orientation, maker, pointer to the position."""


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def cast():
    return factories.make_cast()


def picture(kind="JPEG", size=(40, 20), mode="RGB", colour="red", **options):
    out = io.BytesIO()
    Image.new(mode, size, colour).save(out, kind, **options)
    return out.getvalue()


def add(cast, data, **more):
    return photos.add_photo(act=cast.act("crew"), property=cast.property, data=data, **more)


def shown(photo):
    return Image.open(io.BytesIO(files.read(photo.shown)))


@pytest.mark.parametrize(
    ("kind", "media_type"),
    [("JPEG", "image/jpeg"), ("PNG", "image/png"), ("WEBP", "image/webp"), ("HEIF", "image/heif")],
)
def test_four_formats_are_taken_and_shown_as_jpeg(cast, kind, media_type):
    data = picture(kind)
    made = add(cast, data, moment="before", caption="  the grate ")
    assert (made.original.media_type, made.shown.media_type) == (media_type, "image/jpeg")
    assert files.read(made.original) == data
    assert shown(made).format == "JPEG"
    red, green, blue = shown(made).getpixel((20, 10))
    assert red > 240
    assert max(green, blue) < 20
    assert (made.width_px, made.height_px, made.caption) == (40, 20, "the grate")
    assert made.taken_by == cast.act("crew").who


def test_what_is_shown_is_upright_and_carries_no_metadata(cast):
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    exif[MAKE] = "a camera"
    exif[GPS] = {1: "N", 2: (41.0, 2.0, 3.0)}
    made = add(cast, picture(exif=exif.tobytes(), comment=b"secret place", icc_profile=b"\0" * 200))
    seen = shown(made)
    # Orientation 6: the camera was turned, so that width and height change places.
    assert seen.size == (20, 40)
    assert len(seen.getexif()) == 0
    assert not {"exif", "comment", "icc_profile", "xmp"} & set(seen.info)
    assert b"secret place" not in files.read(made.shown)


def test_a_large_photo_is_shown_at_2048_px_at_most(cast):
    made = add(cast, picture(size=(3000, 1500)))
    assert (made.width_px, made.height_px) == (2048, 1024)


def test_transparent_places_are_white(cast):
    made = add(cast, picture("PNG", mode="RGBA", colour=(0, 0, 0, 0)))
    assert min(shown(made).getpixel((5, 5))) > 250


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"not a picture",
        b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
        b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"/>',
        b"%PDF-1.7",
        picture("GIF"),
        picture("TIFF"),
        picture("BMP"),
    ],
    ids=["empty", "text", "svg", "svg-xml", "pdf", "gif", "tiff", "bmp"],
)
def test_what_is_no_photo_is_refused(cast, data):
    with pytest.raises(BadInput, match="give a JPEG, PNG, WebP or HEIC file"):
        add(cast, data)
    assert not StoredFile.objects.exists()


def test_a_photo_cut_short_is_refused(cast):
    noise = Image.effect_noise((400, 400), 80)
    out = io.BytesIO()
    noise.save(out, "JPEG")
    with pytest.raises(BadInput, match="damaged or cut short"):
        add(cast, out.getvalue()[: len(out.getvalue()) // 2])


def png_that_claims(width, height):
    """A small PNG whose header (PNG specification 11.2.2, IHDR) claims more pixels than it has."""

    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("side", [8_000, 11_000, 60_000])
def test_a_pixel_bomb_is_refused_before_it_is_unpacked(cast, side):
    with pytest.raises(BadInput, match="the limit is 60 million pixels"):
        add(cast, png_that_claims(side, side))


def test_too_many_bytes_are_refused(cast, monkeypatch):
    monkeypatch.setattr(limits, "FILE_BYTES", 500)
    with pytest.raises(BadInput, match="the limit is 500 bytes"):
        add(cast, picture(size=(900, 900)))


def test_a_photo_sent_twice_is_one(cast):
    uid, data = uuid4(), picture()
    first = add(cast, data, uid=uid, caption="one")
    assert add(cast, data, uid=uid, caption="one") == first
    with pytest.raises(Conflict, match="another photo"):
        add(cast, picture(colour="blue"), uid=uid, caption="one")
    assert Photo.objects.filter(uid=uid).count() == 1


def test_a_photo_belongs_to_a_component_of_its_property(cast):
    part = factories.ComponentFactory()
    with pytest.raises(BadInput, match="is not at this property"):
        add(cast, picture(), component=part)


def test_photos_of_an_unmatched_closeout_are_placed_once_it_is_matched(cast):
    closeout, other = uuid4(), uuid4()
    loose = photos.add_photo(act=cast.act("crew"), property=None, data=picture(), closeout_uid=closeout)
    photos.add_photo(act=cast.act("crew"), property=None, data=picture(), closeout_uid=other)
    assert loose.property is None
    office = cast.act("office")
    assert photos.place_photos(act=office, closeout_uid=closeout, property=cast.property) == 1
    assert photos.place_photos(act=office, closeout_uid=closeout, property=cast.strangers_property) == 0
    assert list(Photo.objects.filter(property=cast.property)) == [loose]


def test_a_clock_that_is_ahead_does_not_date_a_photo_in_the_future(cast):
    assert add(cast, picture(), taken_at=AT + timedelta(days=400)).taken_at == AT
    assert add(cast, picture(), taken_at=AT - timedelta(days=400)).taken_at == AT - timedelta(days=400)
