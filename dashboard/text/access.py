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
    "`academy forget {student} --home {home}`; `academy held {student} --out FOLDER --home {home}` first writes a copy "
    "of what is held. "
    "More on the page How to read this."
)

FORGET_TITLE = "Taking a person out"
FORGET_HOW = "On the machine that runs the nights, while no night is at work (id from the students page):"
FORGET_COMMANDS = (
    "academy held STUDENT_ID --out FOLDER --home {home}        # a copy of all that is held, to hand over\n"
    "academy forget STUDENT_ID --rewrite-landing --home {home}  # takes the person out\n"
    "academy nightly --rebuild --home {home}                    # the evidence, made again without them"
)
FORGET_WHAT = (
    "The person's shots, sessions, episodes and entries leave the private databases, the notebook and every published "
    "file, old ones too. It cannot be undone.",
    "Without `--rewrite-landing` the files in `landing/` stay as they are and are named: the next night would bring "
    "the person back from them.",
    "Backups and copies made elsewhere are not reached: delete them, or forget again what comes back. Close and open "
    "the dashboard afterwards.",
    "What is left to do by hand is printed at the end; do that too.",
)
