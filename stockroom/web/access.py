"""Who may do what: every page says which roles it is for; one that says nothing is for nobody."""

from collections.abc import Callable
from typing import Any, TypeVar

from flask import g, session

from stockroom.web.passcodes import Passcodes

View = TypeVar("View", bound=Callable[..., Any])

EVERYBODY = frozenset({"", "bench", "owner", "accountant"})  # also before signing in
ANYONE = frozenset({"bench", "owner", "accountant"})
BENCH = frozenset({"bench", "owner"})
BOOKS = frozenset({"owner", "accountant"})
OWNER = frozenset({"owner"})

_ALLOWED = "stockroom_roles"


def may(roles: frozenset[str]) -> Callable[[View], View]:
    """Say who a page is for."""

    def marked(view: View) -> View:
        setattr(view, _ALLOWED, roles)
        return view

    return marked


def allowed(view: Callable[..., Any] | None) -> frozenset[str]:
    """Give the roles a page is for."""
    found: frozenset[str] = getattr(view, _ALLOWED, frozenset())
    return found


def takes_files(view: View) -> View:
    """Let a page take files, which are larger than forms."""
    view.takes_files = True  # type: ignore[attr-defined]
    return view


def find_role(passcodes: Passcodes) -> str:
    """Find out who is at the page; without any passcode the shop is its owner's alone."""
    kept = passcodes.read()
    if not kept:
        return "owner"
    said = str(session.get("role", ""))
    return said if said in kept and session.get("mark") == passcodes.mark(said) else ""


def sign_in(role: str, passcodes: Passcodes) -> None:
    """Open a session for a role; nothing of an earlier one is kept."""
    language = session.get("language")
    session.clear()
    session.permanent = True
    session.update(role=role, mark=passcodes.mark(role))
    if language:
        session["language"] = language
    g.role = role
