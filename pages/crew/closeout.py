"""Ends a visit from the browser: the form, its photos, then the same closeout the phone would send."""

from hashlib import sha256
from uuid import UUID, uuid4, uuid5
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from core.act import Act
from core.problem import BadInput
from jobs import photos
from maintenance import closeout
from maintenance.models import Visit
from maintenance.read import visible
from pages.acting import acting, found
from pages.crew.closeout_form import CloseoutForm

MOST_PHOTOS = 20


@acting
def close(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """The form, and what comes of it. Its hidden id makes a second press the same closeout."""
    visit: Visit = found(visible.visits(act).select_related("property"), uid=uid)
    if request.method != "POST":
        return _page(request, visit, CloseoutForm(visit, initial=_initial(act, visit)))
    form = CloseoutForm(visit, request.POST)
    if not form.is_valid():
        return _page(request, visit, form, status=422)
    try:
        _keep_photos(request, act, visit, form.cleaned_data["uid"])
    except BadInput as problem:
        form.add_error(None, problem.detail)
        return _page(request, visit, form, status=422)
    body = form.body()
    closed = closeout.close(act=act, uid=form.cleaned_data["uid"], body=body, digest=sha256(body).hexdigest())
    if closed.closeout is not None:
        messages.success(request, _("The visit is closed. Thank you."))
    else:
        note = closed.received.state_note
        messages.warning(request, _("It is kept, and the office looks at it first: %(note)s") % {"note": note})
    return redirect("pages:crew_visit", uid=uid)


def _initial(act: Act, visit: Visit) -> dict[str, object]:
    zone = ZoneInfo(visit.property.zone)
    now = act.at.astimezone(zone)
    begun = visit.begun_at.astimezone(zone) if visit.begun_at else now
    arrived = begun.time() if begun.date() == now.date() else now.time()
    return {"uid": uuid4(), "day": now.date(), "arrived": arrived, "left": now.time()}


def _keep_photos(request: HttpRequest, act: Act, visit: Visit, closeout_uid: UUID) -> None:
    """Photos belong to the closeout by its id; the same picture sent again is the same photo."""
    sent = [(moment, file) for moment in ("before", "after") for file in request.FILES.getlist(f"photos_{moment}")]
    if len(sent) > MOST_PHOTOS:
        raise BadInput(_("%(n)s photos: send at most %(most)s at once.") % {"n": len(sent), "most": MOST_PHOTOS})
    for moment, file in sent:
        _keep(act, visit, closeout_uid, moment, file)


def _keep(act: Act, visit: Visit, closeout_uid: UUID, moment: str, file: UploadedFile) -> None:
    data = file.read()
    photos.add_photo(
        act=act,
        property=visit.property,
        data=data,
        moment=moment,
        closeout_uid=closeout_uid,
        uid=uuid5(closeout_uid, sha256(data).hexdigest()),
    )


def _page(request: HttpRequest, visit: Visit, form: CloseoutForm, *, status: int = 200) -> HttpResponse:
    return render(request, "crew/closeout.html", {"visit": visit, "form": form}, status=status)
