"""Fixed text of login, roles and refusals, in one place, so that it can be translated."""

from __future__ import annotations

HERE = "this machine"
REFUSED = "Not open here"
EVERY_ADDRESS = "every address of this machine"
PLEASE_LOG_IN = "Please log in"
LOG_IN = "Log in"
LOG_OUT = "Log out"
LOGGED_IN = "Logged in as {who}, {role}."
ROLES = {
    "administrator": "administrator",
    "director": "director",
    "coach": "coach",
    "analyst": "analyst",
    "front office": "front office",
}
NO_LOGIN = (
    "This dashboard listens on {address} and has no login, so it shows nothing. Start it with "
    "`--server.address localhost`, or set up a login: a table `[auth]` with redirect_uri, cookie_secret, client_id, "
    "client_secret and server_metadata_url in `.streamlit/secrets.toml`, and the roles under `[access]` in "
    "`academy.toml`."
)
LOGIN_PACKAGE = (
    "A login is set in `.streamlit/secrets.toml`, but the package Authlib that it needs is not installed, so nothing "
    "is shown. Install it (`pip install Authlib`) and start the dashboard again."
)
PASSED_ON = (
    "This request was passed on by another server and there is no login, so nothing is shown. Open the dashboard on "
    "this machine itself, or set up a login: a table `[auth]` in `.streamlit/secrets.toml` and the roles under "
    "`[access]` in `academy.toml`."
)
NO_ROLE = (
    "You are logged in, but no role is set for you. Ask the administrator to add your subject `{subject}`, or your "
    "e-mail {email} once the login provider has verified it, under `[access]` in `academy.toml`."
)
FORGET = (
    "To take this person out of everything, on the machine that runs the nights: "
    "`academy forget {student} --home {home}`; `academy held {student}` first shows what is held."
)
