"""Shortcuts: a file to double-click that opens the shop's pages, and one that opens them at log-in."""

import os
import re
import shlex
import sys
from collections.abc import Sequence
from pathlib import Path

from stockroom.errors import RefusedError, UsageError
from stockroom.phrases import phrase

_NAMES = {"linux": "stockroom.desktop", "mac": "stockroom.command", "windows": "stockroom.bat"}
_HERE = {"win32": "windows", "darwin": "mac"}


def write_shortcuts(
    place: str, folder: Path, system: str | None = None, *, at_login: bool = False, network: bool = False
) -> list[Path]:
    """Write a shortcut for a book into a folder; on Linux one for log-in too, elsewhere the file says how.

    With `network` the pages are opened to the whole network, which they refuse without a passcode.

    Raises
    ------
    RefusedError
        If another file of its name is there.
    UsageError
        If the path of the book or the program holds a line break, or the book is at an address with a passcode.
    """
    named = system or _HERE.get(sys.platform, "linux")
    command = [*_command(place), *(["--host", "0.0.0.0"] if network else [])]  # noqa: S104 -- asked for
    texts = {folder.expanduser() / _NAMES[named]: _TEXTS[named](command)}
    if at_login and named == "linux":
        config = Path(os.environ.get("XDG_CONFIG_HOME") or "~/.config").expanduser()
        texts[config / "autostart" / _NAMES[named]] = _desktop([*command, "--no-browser"])
    for path, text in texts.items():
        if path.exists() and path.read_text("utf-8") != text:
            raise RefusedError(
                phrase("%(path)s exists already.", path=path), fix="Name another folder, or remove it first."
            )
    for path, text in texts.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8", newline="\r\n" if named == "windows" else "\n")
        path.chmod(0o755)
    return list(texts)


def _command(place: str) -> list[str]:
    """Give the words that open the pages from any folder."""
    if re.match(r"\w+://[^/@]*:[^/]*@", place) or "password=" in place:
        raise UsageError(
            "A shortcut would show the passcode of the book's server.",
            fix="Set STOCKROOM_BOOK for the account instead, and start it by hand.",
        )
    book = place if "://" in place else str(Path(place).expanduser().resolve())
    command = [sys.executable, "-m", "stockroom", "--book", book, "serve"]
    if any(not word.isprintable() for word in command):
        raise UsageError("A path holds a mark that can't stand in a shortcut.", fix="Rename the folder.")
    return command


def _desktop(command: Sequence[str]) -> str:
    """Write a desktop entry; its Exec key is quoted twice, as the Desktop Entry Specification says."""
    words = " ".join(_quoted(word) for word in command)
    return (
        "[Desktop Entry]\nType=Application\nName=Stockroom\nComment=The shop's consumables\nComment[de]=Das "
        f"Verbrauchsmaterial der Werkstatt\nExec={words}\nTerminal=true\n"
    )


def _quoted(word: str) -> str:
    inside = "".join(f"\\{mark}" if mark in '"`$\\' else mark for mark in word).replace("%", "%%")
    return f'"{inside}"'.replace("\\", "\\\\")


def _mac(command: Sequence[str]) -> str:
    return (
        "#!/bin/sh\n# Opens the shop's pages. To open them at log-in: System Settings, General, Login Items, add this "
        f"file.\nexec {shlex.join(command)}\n"
    )


def _windows(command: Sequence[str]) -> str:
    words = " ".join('"{}"'.format(word.replace("%", "%%")) for word in command)
    return (
        "@echo off\nchcp 65001 >nul\nrem Opens the shop's pages. To open them at log-in: press Windows+R, type "
        f"shell:startup, and put a copy of this file there.\n{words}\n"
        "if errorlevel 1 pause\n"
    )


_TEXTS = {"linux": _desktop, "mac": _mac, "windows": _windows}
