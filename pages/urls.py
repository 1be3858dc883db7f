"""Addresses of the pages. Each part of the pages adds its own list."""

from django.urls import path

from pages import methods, photos, sign_in
from pages.crew.urls import urlpatterns as crew_urls
from pages.feeds.urls import urlpatterns as feed_urls
from pages.homeowner.urls import urlpatterns as homeowner_urls
from pages.office.urls import urlpatterns as office_urls

app_name = "pages"
urlpatterns = [
    path("", sign_in.home, name="home"),
    path("sign-in/", sign_in.SignIn.as_view(), name="sign_in"),
    path("sign-out/", sign_in.SignOut.as_view(), name="sign_out"),
    path("photos/<uuid:uid>/", photos.photo, name="photo"),
    path("methods/<slug:name>/", methods.methods, name="methods"),
    *feed_urls,
    *homeowner_urls,
    *crew_urls,
    *office_urls,
]
