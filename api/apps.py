from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "api"

    def ready(self) -> None:
        # Registers what the description of the API says about our ways in.
        from api import schema  # noqa: F401
