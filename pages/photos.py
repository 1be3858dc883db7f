"""Photos as they may be seen: the re-encoded picture only, for those who may see the property at that time."""

from uuid import UUID

from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseNotModified
from django.utils.http import parse_etags

from core import files
from core.act import Act
from jobs.models import Photo
from jobs.read import visible
from pages.acting import acting, found


@acting
def photo(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """The picture, kept by the reader's own cache alone. The bytes as received are never served here."""
    row: Photo = found(visible.photos(act).select_related("shown"), uid=uid)
    if row.shown is None:
        raise Http404
    etag = f'"{row.shown.sha256[:32]}"'
    if etag in {tag.removeprefix("W/") for tag in parse_etags(request.headers.get("If-None-Match", ""))}:
        response: HttpResponse = HttpResponseNotModified()
    else:
        path = files.path_of(row.shown.sha256)
        if not path.is_file():
            raise Http404
        response = FileResponse(path.open("rb"), content_type=row.shown.media_type)  # type: ignore[assignment]
    response["ETag"] = etag
    response["Cache-Control"] = "private, max-age=86400"
    response["Content-Disposition"] = "inline"
    return response
