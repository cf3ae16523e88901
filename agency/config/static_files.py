"""Static files in production: hashed names, between the phone's modules too."""

from whitenoise.storage import (  # type: ignore[import-untyped]
    CompressedManifestStaticFilesStorage,
)

IMPORT = (
    r"""(?P<matched>import(?P<names>[\s{][^;"']*?)\s*from\s*["'](?P<url>\./[^"']+)["']\s*;)""",
    """import%(names)s from "%(url)s";""",
)


class HashedModules(CompressedManifestStaticFilesStorage):
    """Also rewrites `import ... from "./module.js"`, so that two versions never mix.

    Only where we write the modules ourselves; other packages ship imports that lead nowhere.
    """

    patterns = (*CompressedManifestStaticFilesStorage.patterns, ("field/*.js", (IMPORT,)))
