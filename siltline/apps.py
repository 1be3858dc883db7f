from django.apps import AppConfig


class SiltlineConfig(AppConfig):
    name = "siltline"

    def ready(self) -> None:
        # Makes ours the application that `shared_task` and `delay` use, in every process.
        import siltline.celery  # noqa: F401
