"""Keeps photos: the bytes as they came, and a picture to show that is re-encoded and carries no metadata."""

import io
from datetime import datetime, timedelta
from uuid import UUID

import pillow_heif
from django.db import transaction
from PIL import Image, ImageOps, UnidentifiedImageError

from core import files, limits
from core.act import Act
from core.problem import BadInput, Conflict
from jobs import field_checks as checks
from jobs.edits import change_plain, create_once
from jobs.models import Component, Photo, Property

FORMATS = ("JPEG", "PNG", "WEBP", "HEIF")
SHOWN_PX = 2048
QUALITY = 82
AHEAD = timedelta(days=1)

pillow_heif.register_heif_opener()

PHOTO: dict[str, checks.Check] = {
    "moment": checks.one_of(Photo.Moment.values),
    "caption": checks.line(200),
    "taken_at": checks.instant,
}


def add_photo(
    *,
    act: Act,
    property: Property | None,
    data: bytes,
    moment: str = "other",
    component: Component | None = None,
    caption: str = "",
    taken_at: datetime | None = None,
    closeout_uid: UUID | None = None,
    uid: UUID | None = None,
) -> Photo:
    """Keep a picture of something at a property (None: of a closeout whose address is not matched yet).

    Taken by content, whatever its name says: JPEG, PNG, WebP or HEIC, at most limits.FILE_BYTES and
    limits.IMAGE_PIXELS. The same uid and bytes again is the same photo. Raises BadInput, Conflict.
    """
    given = {"moment": moment, "caption": caption, "taken_at": taken_at}
    values = checks.cleaned("photo", PHOTO, given)
    if values["taken_at"] is None or values["taken_at"] > act.at + AHEAD:
        values["taken_at"] = act.at
    if component is not None and (property is None or component.property_id != property.pk):
        checks.refuse_field("component", f"component {component} is not at this property.", str(component))
    shown, size, media_type = picture_to_show(data)
    original = files.store(data, media_type=media_type, at=act.at)
    values |= {"property": property, "component": component, "closeout_uid": closeout_uid}
    kept = files.store(shown, media_type="image/jpeg", at=act.at)
    with transaction.atomic():
        made, new = create_once(
            Photo,
            act=act,
            noun="photo",
            uid=uid,
            values=values,
            derived={
                "original": original,
                "shown": kept,
                "width_px": size[0],
                "height_px": size[1],
                "taken_by": act.who,
            },
            at_property=property,
        )
    if not new and made.original_id != original.pk:
        raise Conflict(f"The id {uid} was used before for another photo.", code="uid_taken")
    return made


def place_photos(*, act: Act, closeout_uid: UUID, property: Property) -> int:
    """Give the photos of a closeout to the property it was matched to; returns how many had none."""
    with transaction.atomic():
        loose = list(Photo.objects.select_for_update().filter(closeout_uid=closeout_uid, property=None))
        for photo in loose:
            change_plain(photo, act=act, noun="photo", values={"property": property}, property_uid=property.uid)
    return len(loose)


def picture_to_show(data: bytes) -> tuple[bytes, tuple[int, int], str]:
    """(JPEG bytes without metadata, (width, height) in pixels, media type of `data`). Raises BadInput.

    Upright as the camera was held, at most SHOWN_PX on its longer side, transparent places white.
    """
    if len(data) > limits.FILE_BYTES:
        raise BadInput(f"The photo has {len(data)} bytes; the limit is {limits.FILE_BYTES} bytes.")
    try:
        with Image.open(io.BytesIO(data), formats=FORMATS) as picture:
            width, height = picture.size
            if width * height > limits.IMAGE_PIXELS:
                raise _too_large(f"{width} x {height} pixels")
            media_type = Image.MIME.get(picture.format or "", "application/octet-stream")
            picture.draft("RGB", (SHOWN_PX, SHOWN_PX))
            return *_encoded(picture), media_type
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _too_large("far too many pixels") from None
    except UnidentifiedImageError:
        raise BadInput("This is not a photo: give a JPEG, PNG, WebP or HEIC file.", code="not_a_photo") from None
    except (OSError, ValueError, SyntaxError, EOFError):
        raise BadInput("The photo is damaged or cut short: send it again.", code="photo_damaged") from None


def _too_large(what: str) -> BadInput:
    words = f"The photo has {what}; the limit is {limits.IMAGE_PIXELS // 1_000_000} million pixels."
    return BadInput(words, code="photo_too_large")


def _encoded(picture: Image.Image) -> tuple[bytes, tuple[int, int]]:
    upright = ImageOps.exif_transpose(picture)
    upright.thumbnail((SHOWN_PX, SHOWN_PX))
    if upright.mode in ("RGBA", "LA", "PA") or "transparency" in upright.info:
        layered = upright.convert("RGBA")
        plain = Image.new("RGB", layered.size, "white")
        plain.paste(layered, mask=layered.getchannel("A"))
    else:
        plain = upright.convert("RGB")
    # A fresh picture of the pixels alone: nothing of the original's EXIF, position or comments can come along.
    bare = Image.new("RGB", plain.size)
    bare.paste(plain)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue(), bare.size
