"""Passcodes: kept as slow hashes only, compared in even time."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from hashlib import scrypt, sha256
from hmac import compare_digest
from secrets import token_urlsafe
from typing import Any, TypeVar

from flask import g, session
from werkzeug.security import check_password_hash, generate_password_hash

from stockroom.errors import UsageError
from stockroom.flows.book.opening import Book, keep_passcode, kept_passcodes
from stockroom.phrases import phrase

ROLES = ("bench", "owner", "accountant")
LEAST = 8  # marks in a passcode
MOST = 200
# OWASP Password Storage Cheat Sheet names scrypt with N=2^15, r=8, p=3 among its settings (from memory).
_METHOD = f"scrypt:{2**15}:8:3"
_MEMORY = 64 * 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class Passcodes:
    """The kept passcodes, read anew each time, so that a change holds at once."""

    read: Callable[[], Mapping[str, str]]  # role -> kept
    ended: Callable[[str], bool] = lambda _number: False  # whether a session was signed out of

    @property
    def wanted(self) -> bool:
        """Say whether anybody has to sign in."""
        return bool(self.read())

    def mark(self, role: str) -> str:
        """Mark the state of a role's passcode: a session opened under another one is over."""
        return sha256(self.read().get(role, "").encode()).hexdigest()[:16]

    def role_of(self, typed: str, among: Collection[str] | None = None) -> str:
        """Give the role [among some] whose passcode was typed, or an empty text; each is compared, whichever fits."""
        kept = {role: kept for role, kept in self.read().items() if among is None or role in among}
        fitting = [role for role, hashed_one in kept.items() if fits(typed, hashed_one)]
        return fitting[0] if fitting else ""


def set_passcode(book: Book, role: str, typed: str) -> None:
    """Keep a role's passcode; two roles never share one.

    Raises
    ------
    UsageError
        If it is another role's already.
    """
    kept = hashed(typed)
    others = Passcodes(read=lambda: {r: k for r, k in kept_passcodes(book).items() if r != role})
    if others.role_of(typed):
        raise UsageError("That passcode is another role's already.", fix="Choose another.")
    keep_passcode(book, role, kept)


def hashed(passcode: str) -> str:
    """Hash a passcode for keeping.

    Raises
    ------
    UsageError
        If it is too short or too long.
    """
    if not LEAST <= len(passcode) <= MOST:
        raise UsageError(
            phrase("A passcode needs %(least)s to %(most)s letters or figures.", least=LEAST, most=MOST),
            fix="Choose another.",
        )
    return generate_password_hash(passcode, _METHOD)


def fits(passcode: str, kept: str) -> bool:
    """Say whether a typed passcode is the one kept."""
    typed = passcode[:MOST]
    return _fits_older(typed, kept) if kept.startswith("scrypt$") else check_password_hash(kept, typed)


def _fits_older(typed: str, kept: str) -> bool:
    """Compare with a passcode kept before 2026-11-27, whose salt was bytes; such a one holds until it is set anew."""
    _, n, r, p, salt, digest = kept.split("$")
    made = scrypt(typed.encode(), salt=bytes.fromhex(salt), n=int(n), r=int(r), p=int(p), maxmem=_MEMORY)
    return compare_digest(made, bytes.fromhex(digest))


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
    said, number = str(session.get("role", "")), str(session.get("number", ""))
    open_ = bool(number) and not passcodes.ended(number)
    return said if open_ and said in kept and session.get("mark") == passcodes.mark(said) else ""


def sign_in(role: str, passcodes: Passcodes) -> None:
    """Open a session for a role; nothing of an earlier one is kept."""
    language = session.get("language")
    session.clear()
    session.permanent = True
    session.update(role=role, mark=passcodes.mark(role), number=token_urlsafe(12))
    if language:
        session["language"] = language
    g.role = role
