"""Which messages a homeowner gets: each kind on or off."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from core.act import Act
from maintenance import message_wishes
from pages.homeowner.asking import homeowner_page, person_of


@homeowner_page
def wanted(request: HttpRequest, act: Act) -> HttpResponse:
    """The list of kinds with a tick each; POST keeps the ticks."""
    customer = person_of(request)
    if request.method == "POST":
        message_wishes.keep_wishes(act=act, customer=customer, wanted=frozenset(request.POST.getlist("wanted")))
        messages.success(request, _("Kept."))
        return redirect("pages:home_messages")
    context = {"wishes": message_wishes.wishes_of(customer), "email": customer.email}
    return render(request, "homeowner/messages.html", context)
