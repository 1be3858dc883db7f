"""One view for every form of the register: it shows fields, calls one service, and says what was refused and where."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core.act import Act
from core.dispatch import after_commit
from core.problem import Problem, StaleVersion
from jobs.models import Property
from pages.acting import acting
from pages.forms.fields import Field, typed, with_errors

UID = "client_uid"
REVISION = "revision"


@dataclass(frozen=True)
class About:
    """What a form is about: the record it changes (None where it makes one) and the property it belongs to."""

    property: Property | None
    record: Any = None
    choice: str = ""


@dataclass(frozen=True)
class Form:
    """A form: how its record is found, its fields, and the one service call that keeps it.

    `keep` returns the property to go to and the words to say there. `caution` stands above the button;
    `search` labels a search that narrows the choices, handed to `find` as `?q=`.
    """

    title: str
    find: Callable[[HttpRequest, Act, UUID | None], About]
    fields: Callable[[Act, About], Sequence[Field]]
    keep: Callable[[HttpRequest, Act, About], tuple[Property | None, str]]
    button: str = "Keep"
    caution: str = ""
    search: str = ""
    is_upload: bool = field(default=False)


def view(form: Form) -> Callable[..., HttpResponse]:
    """The view of one form."""

    @acting
    def edit(request: HttpRequest, act: Act, uid: UUID | None = None) -> HttpResponse:
        about = form.find(request, act, uid)
        fields = list(form.fields(act, about))
        if request.method == "GET":
            return _page(request, form, about, fields, status=200)
        fields = typed(fields, request.POST)
        try:
            # All or nothing: a form that makes two records keeps neither where the second is refused.
            with transaction.atomic():
                prop, words = form.keep(request, act, about)
                if prop is not None:
                    after_commit("maintenance.tasks.refresh_property", prop.pk)
        except Problem as problem:
            about = form.find(request, act, uid)
            present = _present(form, act, about) if isinstance(problem, StaleVersion) else []
            fields = _with_revision(fields, about)
            fields, errors = with_errors(fields, problem)
            return _page(request, form, about, fields, status=problem.status, errors=errors, present=present)
        messages.success(request, words)
        return redirect("pages:property", uid=prop.uid) if prop is not None else redirect("pages:properties")

    return edit


def _with_revision(fields: Sequence[Field], about: About) -> list[Field]:
    """After someone else's change the next try is meant for the present version."""
    now = getattr(about.record, "revision", None)
    return [replace(f, value=str(now)) if f.name == REVISION and now is not None else f for f in fields]


def _present(form: Form, act: Act, about: About) -> list[tuple[str, str]]:
    return [(f.label, f.words) for f in form.fields(act, about) if f.sort not in ("hidden", "file", "secret")]


def _differs(fields: Sequence[Field], present: Sequence[tuple[str, str]]) -> list[tuple[str, str, str]]:
    """(label, what was typed, what is recorded now) of the fields that are not alike."""
    now = dict(present)
    return [(f.label, f.words, now[f.label]) for f in fields if f.label in now and f.words != now[f.label]]


def _page(
    request: HttpRequest,
    form: Form,
    about: About,
    fields: Sequence[Field],
    *,
    status: int,
    errors: Sequence[tuple[str, str]] = (),
    present: Sequence[tuple[str, str]] = (),
) -> HttpResponse:
    context = {
        "title": form.title,
        "property": about.property,
        "fields": fields,
        "errors": errors,
        "present": present,
        "differs": _differs(fields, present),
        "button": form.button,
        "caution": form.caution,
        "search": form.search,
        "q": about.choice,
        "is_upload": form.is_upload,
    }
    return render(request, "office/register/form.html", context, status=status)


def prop_of(about: About) -> Property:
    """The property a form is about. Raises Http404 where there is none."""
    if about.property is None:
        raise Http404
    return about.property


def client_uid() -> Field:
    """A hidden id made with the form, so that sending it twice keeps one record."""
    return Field(UID, "", "hidden", str(uuid4()))


def uid_of(request: HttpRequest) -> UUID | None:
    """The id the form carried; nonsense counts as none."""
    try:
        return UUID(request.POST.get(UID, ""))
    except ValueError:
        return None


def revision(record: Any) -> Field:
    """The hidden version that was edited."""
    return Field(REVISION, "", "hidden", str(record.revision))


def revision_of(request: HttpRequest) -> int:
    """The version that was edited; 0, never the present one, where it is missing."""
    text = request.POST.get(REVISION, "")
    return int(text) if text.isdecimal() and text.isascii() and len(text) < 10 else 0
