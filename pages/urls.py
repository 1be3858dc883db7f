"""Addresses of the pages. Each part of the pages adds its own list."""

from django.urls import path

from pages import sign_in

app_name = "pages"
urlpatterns = [
    path("", sign_in.home, name="home"),
    path("sign-in/", sign_in.SignIn.as_view(), name="sign_in"),
    path("sign-out/", sign_in.SignOut.as_view(), name="sign_out"),
]
