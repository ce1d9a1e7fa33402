"""Who may open the dashboard, and what they see: login, roles, pages, withheld names, and the line for every use.

On this machine no login is asked for. On any other address, or behind another server that passes requests on, nothing
is shown without Streamlit's own OpenID Connect login. Not here: text (words_access.py), the copy without names
(anonymised_copy.py).
"""

from __future__ import annotations

import importlib.util
import ipaddress
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import polars as pl
import streamlit as st

from dashboard.notebook.store import opened
from dashboard.shell import anonymised_copy
from dashboard.shell.home_view import Home
from dashboard.shell.outside_text import as_text, in_code, say_error
from dashboard.text import access as words_access
from warehouse import home as warehouse_home
from warehouse.notebook import actions
from warehouse.publishing import manifest
from warehouse.settings import settings

if TYPE_CHECKING:
    from dashboard.shell.page_context import Reading

ALL = ("week", "cohorts", "drills", "drill", "trials", "students", "notebook", "take_home", "bays", "sql", "help")
PAGES_OF: dict[str, tuple[str, ...]] = {
    "administrator": ALL,
    "director": ALL,
    "coach": tuple(page for page in ALL if page != "sql"),
    "analyst": tuple(page for page in ALL if page not in ("notebook", "take_home")),
    "front office": ("bays", "help"),
}
PASSED_ON = ("X-Forwarded-For", "Forwarded", "X-Real-Ip")
"""Headers that say that another server stands between the reader and this one."""
KEPT = "person"
STYLE = """<style>
[data-testid="stElementToolbarButton"]:has([aria-label^="Download as"]),
[data-testid="stElementToolbarButton"]:has([aria-label^="Copy"]) {display: none;}
</style>"""
# Tables and pictures have ways of their own to be saved, which leave no line of use: only the buttons below do.


@dataclass(frozen=True)
class Person:
    """Who reads.

    Attributes
    ----------
    who
        Stands in the notebook's entries and in the lines of use: e-mail or subject, else that it was this machine.
    role
        A key of PAGES_OF.
    coach_id
        For a coach: whose students come first.
    """

    who: str
    role: str
    coach_id: str | None = None

    @property
    def pages(self) -> tuple[str, ...]:
        """Return the pages this person may open."""
        return PAGES_OF[self.role]

    @property
    def sees_names(self) -> bool:
        """Return whether names are shown; an analyst and the front office see ids."""
        return self.role not in ("analyst", "front office")

    @property
    def sees_refused_cells(self) -> bool:
        """Return whether refused cells are shown as they came: to those who set them right."""
        return self.role == "front office"


HERE = Person(words_access.HERE, "administrator")


def is_this_machine(address: str | None) -> bool:
    """Return whether a server at this address can be reached from this machine only; no address means every one."""
    if not address:
        return False
    if address == "localhost":
        return True
    try:
        return ipaddress.ip_address(address.strip("[]")).is_loopback
    except ValueError:
        return False


def barrier(address: str | None, headers: Mapping[str, str], login_set: bool, login_installed: bool) -> str | None:
    """Return why nothing may be shown, with the remedy; None where reading may go on (with a login where one is set).

    Parameters
    ----------
    address
        The server's `--server.address`.
    headers
        The request's.
    login_set
        Whether a login is configured.
    login_installed
        Whether the package is there that it needs.
    """
    if login_set:
        return None if login_installed else words_access.LOGIN_PACKAGE
    if not is_this_machine(address):
        return words_access.NO_LOGIN.format(address=address or words_access.EVERY_ADDRESS)
    given = {name.lower() for name in headers}
    if any(name.lower() in given for name in PASSED_ON):
        return words_access.PASSED_ON
    return None


def role_of(claims: Mapping[str, Any], access: settings.Access) -> Person | None:
    """Return who a login is by the settings; None where they do not name them.

    An e-mail counts only where the provider says that it is verified: else whoever can write any e-mail into their own
    account could take another's role. For the same reason a name with an @ in the settings is never a subject.
    """
    subject = str(claims.get("sub") or "")
    verified = claims.get("email_verified") in (True, "true")
    email = str(claims.get("email") or "") if verified else ""
    known = {same_case(email)} if email else set()
    if subject and "@" not in subject:
        known.add(subject)
    for role, names in (
        ("administrator", access.administrators),
        ("director", access.directors),
        ("coach", list(access.coaches)),
        ("analyst", access.analysts),
        ("front office", access.front_office),
    ):
        named = [name for name in names if (same_case(name) if "@" in name else name) in known]
        if named:
            return Person(email or subject, role, access.coaches.get(named[0]) if role == "coach" else None)
    return None


def same_case(email: str) -> str:
    """Return an e-mail with A to Z small and every other sign as it is: a Kelvin sign is no K, and no one's e-mail."""
    return email.encode().lower().decode()


def server_address() -> str | None:
    """Return where the server listens."""
    return st.get_option("server.address")


def login_is_set() -> bool:
    """Return whether secrets.toml holds a login."""
    try:
        return "auth" in st.secrets
    except (FileNotFoundError, st.errors.StreamlitSecretNotFoundError):
        return False


def login_installed() -> bool:
    """Return whether the package is there that Streamlit's login needs."""
    return importlib.util.find_spec("authlib") is not None


def claims() -> dict[str, Any] | None:
    """Return what the provider says of the reader; None where nobody is logged in."""
    return dict(st.user) if st.user.get("is_logged_in") else None


def enter(home: Home) -> Person | None:
    """Let the reader in and return who it is; else say why not, or ask for the login, and return None."""
    st.session_state.pop(KEPT, None)
    with_login = login_is_set()
    refused = barrier(server_address(), st.context.headers, with_login, login_installed())
    if refused:
        st.title(words_access.REFUSED)
        st.error(refused)
        return None
    try:
        access = settings.load(home.folder).access
    except settings.SettingsFault as fault:
        say_error(fault)
        return None
    person = HERE if not with_login else _logged_in(access)
    if person is not None:
        st.session_state[KEPT] = person
    return person


def _logged_in(access: settings.Access) -> Person | None:
    """Return who is logged in; ask for the login, or say that the settings do not name them."""
    said = claims()
    if said is None:
        st.title(words_access.PLEASE_LOG_IN)
        st.button(words_access.LOG_IN, type="primary", on_click=st.login, key="log-in")
        return None
    person = role_of(said, access)
    if person is None:
        st.title(words_access.REFUSED)
        named = {"subject": in_code(said.get("sub")), "email": as_text(said.get("email") or "–")}
        st.error(words_access.NO_ROLE.format(**named))
        st.button(words_access.LOG_OUT, on_click=st.logout, key="log-out")
    return person


def may_log_out() -> None:
    """Say who is logged in, and let them log out."""
    person = current()
    if person != HERE:
        st.caption(words_access.LOGGED_IN.format(who=as_text(person.who), role=words_access.ROLES[person.role]))
        st.button(words_access.LOG_OUT, on_click=st.logout, key="log-out", type="tertiary")


def current() -> Person:
    """Return who reads in this run."""
    return st.session_state[KEPT]


def own_first(read: Reading, students: pl.DataFrame) -> pl.DataFrame:
    """Return students (rows with student_id) with a coach's own first, else as they come."""
    coach = current().coach_id
    if coach is None:
        return students
    own = read.ask("coach_students", coach_id=coach)["student_id"]
    return students.sort(~pl.col("student_id").is_in(own.to_list()), maintain_order=True)


def for_reader(home: Home, person: Person) -> Home:
    """Return the home with what this person may read: without names, the file that was published without them.

    A publication of an older program has none: until the next night its copy does.
    """
    if person.sees_names or home.published is None:
        return home
    kept = warehouse_home.Home(home.folder)
    nameless = kept.without_names / Path(home.published).name
    if not nameless.exists():
        return replace(home, published=anonymised_copy.copy(home.published))
    return replace(home, published=str(nameless.resolve()) if manifest.fault(kept, nameless) is None else None)


def record_use(home: Home, what: str, detail: str) -> None:
    """Keep a line of a download or a query in the notebook, before it is given.

    Raises
    ------
    Exception
        The notebook cannot be written: then nothing is given either.
    """
    actions.record_use(opened(home), who=current().who, what=what, detail=detail)


def download(
    label: str, make: bytes | Callable[[], bytes], name: str, mime: str, *, home: Home, key: str, detail: str = ""
) -> None:
    """Put a download button; whoever presses it leaves a line of use first, or gets nothing.

    Parameters
    ----------
    make
        What is downloaded, or what makes it when asked.
    detail
        What stands in the line of use; the file's name if not given.
    """
    give = partial(given, home, current().who, detail or name, make)
    st.download_button(label, give, name, mime, key=key, on_click="ignore")


def given(home: Home, who: str, detail: str, make: bytes | Callable[[], bytes]) -> bytes:
    """Keep the line of use, then return what is downloaded."""
    actions.record_use(opened(home), who=who, what="download", detail=detail)
    return make if isinstance(make, bytes) else make()
