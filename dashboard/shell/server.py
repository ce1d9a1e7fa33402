"""The web server around the pages: asked by its own names only, and no answer lets a page fetch from elsewhere.

Not here: which names a server has in general (warehouse/serving), nor who may log in (access.py).
"""

from __future__ import annotations

import base64
import hashlib
import re
import sys
from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware

from dashboard.shell.home_view import folder_from
from warehouse.serving.own_addresses import HARDENED, Addresses, OwnAddressesOnly, addresses
from warehouse.settings import settings

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
    try:
        named = settings.load(folder_from(sys.argv[1:])).access.hosts
    except settings.SettingsFault:
        named = []  # every page says what is wrong with the settings
    set_names = [*named, *(st.get_option("server.allowedHosts") or ()), st.get_option("browser.serverAddress") or ""]
    origins = [*(st.get_option("server.corsAllowedOrigins") or ()), *login_origins()]
    return addresses(st.get_option("server.address"), set_names, origins)


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
    return [Middleware(OwnAddressesOnly, known=known_addresses, headers=headers)]
