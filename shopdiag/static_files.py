"""Static files of a deployment, fingerprinted so that a browser may keep them for good."""

from whitenoise.storage import CompressedManifestStaticFilesStorage

_FROM_A_MODULE = (r"""(?P<matched>from\s*["'](?P<url>\.\.?/[^"']+)["'])""", 'from "%(url)s"')
_MODULES = ("js/*.js", "vendor/noble-hashes/*.js")


class FingerprintedStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """Names files by their content, also where one script module imports another.

    Django's own switch for modules reads every script there is, and stumbles over what scripts of
    other packages say in comments.
    """

    patterns = (
        *CompressedManifestStaticFilesStorage.patterns,
        *((files, (_FROM_A_MODULE,)) for files in _MODULES),
    )
