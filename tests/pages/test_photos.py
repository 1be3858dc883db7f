"""Photos: only the re-encoded picture, only for those who may see the property at that time."""

import io
from datetime import timedelta

import pytest
from PIL import Image

from jobs.models import Photo
from jobs.photos import add_photo
from tests.factories import AT, PhotoFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def photo(cast) -> Photo:
    """A picture whose EXIF says where it was taken."""
    out = io.BytesIO()
    exif = Image.Exif()
    exif[0x9286] = "house key under the mat"
    Image.new("RGB", (60, 40), "navy").save(out, "JPEG", exif=exif)
    return add_photo(act=cast.act("crew"), property=cast.property, data=out.getvalue(), taken_at=AT)


@pytest.mark.parametrize("who", ["office", "crew", "homeowner"])
def test_the_shown_picture_and_nothing_of_the_original(photo, browser_of, who):
    response = browser_of(who).get(f"/photos/{photo.uid}/")
    body = b"".join(response.streaming_content)
    assert response.status_code == 200
    assert Image.open(io.BytesIO(body)).size == (60, 40)
    assert b"house key" not in body
    assert response["Cache-Control"] == "private, max-age=86400"
    assert response["X-Content-Type-Options"] == "nosniff"
    again = browser_of(who).get(f"/photos/{photo.uid}/", headers={"If-None-Match": response["ETag"]})
    assert (again.status_code, again.content) == (304, b"")


@pytest.mark.parametrize(("who", "status"), [("other_crew", 404), ("stranger", 404), ("nobody", 302)])
def test_not_for_others(photo, browser_of, who, status):
    assert browser_of(who).get(f"/photos/{photo.uid}/").status_code == status


def test_not_from_before_their_time_nor_unmatched_nor_without_bytes(cast, photo, browser_of):
    old = PhotoFactory(property=cast.property, taken_at=AT - timedelta(days=3000))
    unmatched = PhotoFactory(property=None)
    lost, unshown = PhotoFactory(property=cast.property), PhotoFactory(property=cast.property, shown=None)
    for row in (old, unmatched, lost, unshown):
        assert browser_of("homeowner").get(f"/photos/{row.uid}/").status_code == 404
    assert browser_of("office").get(f"/photos/{lost.uid}/").status_code == 404
