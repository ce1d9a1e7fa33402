"""The web server around the pages: asked by its own names only, and no answer lets a page fetch from elsewhere.

Not here: which names a server has in general (warehouse/serving), nor who may log in (access.py).
"""

from __future__ import annotations

import base64
import hashlib
import logging
import re
import secrets
import sys
from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware

from dashboard.shell import access
from dashboard.shell.home_view import folder_from
from dashboard.shell.login_sessions import LoginSessions
from dashboard.text import faults
from warehouse.serving.own_addresses import HARDENED, Addresses, OwnAddressesOnly, addresses
from warehouse.settings import settings

LOG = logging.getLogger(__name__)
INLINE = re.compile(r"<script>(.*?)</script>", re.DOTALL)


def policy() -> str:
    """Return the Content-Security-Policy: pages fetch from this server only, whatever a text in them says.

    Pictures also come as data. Styles are written by the pages' own code while they run; so are the short functions
    that a chart is drawn by, unless the library reads its expressions itself.
    """
    scripts = " ".join(("'self'", *inline_hashes()))
    return "; ".join((
        "default-src 'self'", f"script-src {scripts}", "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data:", "font-src 'self' data:", "media-src 'self'", "connect-src 'self'",
        "worker-src 'self' blob:", "frame-src 'none'", "object-src 'none'", "base-uri 'self'", "form-action 'self'",
        "frame-ancestors 'none'",
    ))  # fmt: skip


def inline_hashes() -> list[str]:
    """Return the hashes of the scripts that stand in the server's own page."""
    page = Path(st.__file__).parent / "static" / "index.html"
    scripts = INLINE.findall(page.read_text(encoding="utf-8"))
    return [f"'sha256-{base64.b64encode(hashlib.sha256(one.encode()).digest()).decode()}'" for one in scripts]


def known_addresses() -> Addresses:
    """Return the names this server is known by: where it listens, those set, and where a login comes back to."""
    options = [*(st.get_option("server.allowedHosts") or ()), st.get_option("browser.serverAddress") or ""]
    origins = [*(st.get_option("server.corsAllowedOrigins") or ()), *login_origins()]
    return addresses(st.get_option("server.address"), [*set_access().hosts, *options], origins)


def login_origins() -> list[str]:
    """Return the origin to which a login comes back, if one is set: readers ask for the pages there."""
    try:
        back = str(st.secrets["auth"]["redirect_uri"])
    except (KeyError, FileNotFoundError, st.errors.StreamlitSecretNotFoundError):
        return []
    found = re.match(r"https?://[^/]+", back)
    return [found[0]] if found else []


def layers() -> list[Middleware]:
    """Return what stands between the network and the pages, the outermost first."""
    headers = {**HARDENED, "Content-Security-Policy": policy()}
    return [
        Middleware(OwnAddressesOnly, known=known_addresses, headers=headers),
        Middleware(LoginSessions, login_is_set=access.login_is_set, idle_seconds=idle_seconds),
    ]


def idle_seconds() -> float:
    """Return the seconds without a tap after which a login ends."""
    return set_access().idle_minutes * 60.0


def set_access() -> settings.Access:
    """Return who may see what by the settings; the defaults where they cannot be read, which every page then says."""
    try:
        return settings.load(folder_from(sys.argv[1:])).access
    except settings.SettingsFault:
        return settings.Access()


def on_fault(fault: Exception) -> bool:
    """Say in words that a page broke, and keep what a programmer needs in the server's own log: nothing of it leaves.

    The number stands on the page and in the log.
    """
    number = secrets.token_hex(4)
    LOG.error("page broke, number %s", number, exc_info=fault)
    st.error(faults.PAGE_BROKE.format(number=number))
    return True
