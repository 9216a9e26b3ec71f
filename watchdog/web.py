"""How the watch opens an address of the web by itself: through a school's proxy, trusting a network's own root certificate.

Of the library's ways only http and https: no file, no ftp, no cookie. Messages go another way, in the child that sends them.
"""

import ssl
import urllib.request
from pathlib import Path


class BadRoot(OSError):
    """The root certificate cannot be used; `why` says it in words that follow 'cannot be used:'."""

    def __init__(self, root: Path, why: str) -> None:
        super().__init__(f"the root certificate {root} cannot be used: {why}")
        self.why = why


def opener(
    proxy: str | None, root: Path | None, redirections: urllib.request.HTTPRedirectHandler
) -> urllib.request.OpenerDirector:
    """`proxy`: address of an HTTP proxy; None: as the environment says (http_proxy, https_proxy, no_proxy). `root`: PEM file
    of certificates that are trusted beside the system's. Raises BadRoot."""
    trusted = ssl.create_default_context()
    if root is not None:
        try:
            trusted.load_verify_locations(cafile=str(root))
        except (FileNotFoundError, PermissionError) as wrong:
            raise BadRoot(root, wrong.strerror or str(wrong)) from None
        except (OSError, ValueError):  # an SSLError is an OSError
            raise BadRoot(root, "it holds no certificate") from None
    made = urllib.request.OpenerDirector()
    for handler in (
        urllib.request.ProxyHandler(None if proxy is None else {"http": proxy, "https": proxy}),
        urllib.request.HTTPHandler(),
        urllib.request.HTTPSHandler(context=trusted),
        urllib.request.HTTPErrorProcessor(),
        urllib.request.HTTPDefaultErrorHandler(),
        redirections,
    ):
        made.add_handler(handler)
    return made
