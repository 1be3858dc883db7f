"""Hashed static names, in our own ES modules too."""

from typing import Any

from django.contrib.staticfiles.storage import HashedFilesMixin
from whitenoise.compress import Compressor
from whitenoise.storage import CompressedManifestStaticFilesStorage


class ModuleStorage(CompressedManifestStaticFilesStorage):
    """Rewrites `import ... from "./x.js"` in our own folders only: packaged scripts show imports in comments.

    Leans on one private Django attribute; tests/siltline/test_static.py pins it.
    """

    _imports = HashedFilesMixin._js_module_import_aggregation_patterns[1]  # type: ignore[attr-defined]
    patterns = (
        *CompressedManifestStaticFilesStorage.patterns,
        ("office/*.js", _imports),
        ("crew/*.js", _imports),
        ("homeowner/*.js", _imports),
    )
    manifest_strict = False

    def create_compressor(self, **kwargs: Any) -> Compressor:
        # gzip alone: Brotli at its best made the first start wait 22 s longer for the packaged scripts.
        return Compressor(**kwargs, use_brotli=False)
