"""The one way to keep things on the disk: whole or not at all, nothing of anybody overwritten, every fault in words.

What was changed by someone else meanwhile, or cannot be read, is set aside under another name and never deleted.
"""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import time
import tomllib
from pathlib import Path
from typing import Any, NamedTuple

from ..checks import InputError, Problem
from .keys import reason

MOST = 1_000_000
"""Largest file of text that is read [bytes]."""
OLD = 3600.0
"""Age from which a part file is what a killed writer left behind [s]."""
_PART_FILE = re.compile(r"\..+\.[0-9a-f]{8}\.part")
_KEY = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+"""
DEEP = re.compile(rf"^[ \t]*+{_KEY}(?:\.[ \t]*+{_KEY}){{20}}", re.MULTILINE)
"""A key of more than twenty parts; the deepest that is known has four, and the parser is slow on thousands."""
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
_LONE = re.compile(r"[\ud800-\udfff]")


class Found(NamedTuple):
    """What a file of TOML holds, its text (None where there is no such file), and why it is of no use, in words."""

    data: dict[str, Any]
    text: str | None
    fault: str


def save_whole(target: Path, raw: bytes) -> None:
    """Put bytes on the disk so that at any instant the name holds either the former file or the new one, whole.

    Parameters:
        target: the file's resolved path [-]
        raw: what it is to hold [-]

    Errors:
        ``OSError`` from the system; the former file is then as it was.

    Validity: a writer killed half-way leaves a hidden ``.part`` file, which a later save in that folder clears away.
    """
    mode = 0o666
    if target.exists():
        if not os.access(target, os.W_OK):
            raise PermissionError(13, "the file is write-protected")
        mode = target.stat().st_mode & 0o777
    part = target.with_name(f".{target.name[:100]}.{secrets.token_hex(4)}.part")
    try:
        with os.fdopen(
            os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode), "wb"
        ) as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, target)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink()
        raise
    with contextlib.suppress(OSError):  # some systems cannot open a folder; the file itself is safe by now
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    _clear(target.parent)


def made(folder: Path) -> Path:
    """Make a folder where there is none.

    Parameters:
        folder: the folder [-]

    Returns:
        the folder [-]

    Errors:
        ``InputError`` in words where the system refuses, or where a file or a dead link has its name.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as fault:
        raise _cannot("be made, so that nothing can be saved there", folder, fault, "folder") from None
    return folder


def put(target: Path, raw: bytes) -> Path:
    """Put bytes on the disk, whole or not at all, and make the folder where there is none.

    Parameters:
        target: the file; one that is a link stays a link [-]
        raw: what it is to hold [-]

    Returns:
        the file's path [-]

    Errors:
        ``InputError`` in words where the system refuses; the former file is then as it was.
    """
    made(target.parent)
    try:
        save_whole(target.resolve(), raw)
    except (OSError, ValueError, RuntimeError) as fault:  # a NUL in the name; a ring of links
        raise _cannot("be saved", target, fault) from None
    return target


def save(target: Path, text: str, former: str | None) -> str:
    """Save a text; a version on the disk that is not the one last read or written here is set aside first.

    Parameters:
        target: the file [-]
        text: what it is to hold [-]
        former: the text last read or written here; None for a new file [-]

    Returns:
        what to tell the reader; empty where nothing was set aside [-]

    Errors:
        ``InputError`` in words where it cannot be saved; nothing is lost then.
    """
    raw, said = text.encode("utf-8"), ""
    try:
        there = target.read_bytes() if target.is_file() else None
    except OSError as fault:
        raise _cannot("be saved", target, fault) from None
    if there is not None and there not in (raw, (former or "").encode("utf-8")):
        said = (
            f"The file was changed elsewhere meanwhile, such as in another tab. What is shown here is saved now. The "
            f"other version is kept as {set_aside(target).name} in the same folder. To go back to it, close this page "
            f"and give it the name {target.name}. Load the other tab again before you type there."
        )
    put(target, raw)
    return said


def load(path: Path) -> Found:
    """Read a file of TOML; one that is not there holds nothing, and one that is no TOML is reported as that.

    Parameters:
        path: the file [-]

    Returns:
        a ``Found``; its ``text`` is empty where ``fault`` is not [-]

    Errors:
        ``InputError`` where the system does not let the file be read; it stays where it is.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(MOST + 1)
    except (FileNotFoundError, NotADirectoryError):
        return Found({}, None, "")
    except (OSError, ValueError) as fault:
        raise _cannot("be read", path, fault) from None
    try:
        if len(raw) > MOST:
            raise ValueError(f"it is larger than {MOST:,} bytes")
        text = raw.decode("utf-8")
        if DEEP.search(text):
            raise ValueError("a key has more than 20 parts")
        return Found(tomllib.loads(text.removeprefix("\ufeff")), text, "")
    except (ValueError, RecursionError) as fault:  # TOMLDecodeError and UnicodeDecodeError are ValueErrors
        return Found({}, "", str(fault)[:120])


def set_aside(path: Path) -> Path:
    """Rename a file to a name that nothing has yet.

    Parameters:
        path: the file [-]

    Returns:
        where it is now [-]

    Errors:
        ``InputError`` in words where the system refuses; it is then where it was.
    """
    kept = free_aside(path)
    try:
        os.replace(path, kept)
    except OSError as fault:
        raise _cannot("be kept aside", path, fault) from None
    return kept


def free_aside(path: Path) -> Path:
    """Return the name under which a file would be set aside.

    Parameters:
        path: the file [-]

    Returns:
        a path beside it that nothing has yet [-]
    """
    count = 1
    while (kept := path.with_name(f"{path.name}.kept-{count}")).exists():
        count += 1
    return kept


def names(folder: Path, ending: str) -> tuple[str, ...]:
    """List what is kept in a folder under plain names; a folder that cannot be read holds nothing, see ``unread``.

    Parameters:
        folder: the folder; it may not exist, or be none [-]
        ending: what the files' names end with, such as ``.toml`` [-]

    Returns:
        names without ending, in order of the alphabet [-]
    """
    try:
        found = os.listdir(folder)
    except (OSError, ValueError):
        return ()
    stems = (name.removesuffix(ending) for name in found if name.endswith(ending))
    return tuple(sorted(stem for stem in stems if stem and "." not in stem))


def unread(folder: Path) -> str:
    """State why a folder cannot be read, so that an empty list is not taken for an empty folder.

    Parameters:
        folder: the folder [-]

    Returns:
        words; empty where it can be read, or where there is none yet [-]
    """
    try:
        os.listdir(folder)
    except FileNotFoundError as fault:
        return str(_cannot("be read", folder, fault, "folder")) if folder.is_symlink() else ""
    except (OSError, ValueError) as fault:
        return str(_cannot("be read", folder, fault, "folder"))
    return ""


def marked(mark: Path) -> str:
    """Read which one is marked in a small file; what cannot be read marks none.

    Parameters:
        mark: the small file [-]

    Returns:
        the name; empty where there is none [-]
    """
    try:
        return mark.read_bytes()[:1000].decode("utf-8").strip()
    except (OSError, ValueError):
        return ""


def typed_path(text: str, what: str) -> Path:
    """Turn what was typed into a path; ``~`` is the home folder.

    Parameters:
        text: what was typed [-]
        what: what it should name, for the error message [-]

    Returns:
        the path; whether anything is there was not asked [-]

    Errors:
        ``InputError`` for a home folder that nobody has, a character or a length that no path can have, a folder that
        may not be looked into.
    """
    try:
        if "\0" in text:
            raise ValueError("a path cannot hold the character NUL")
        path = Path(text).expanduser()
        path.exists()  # refuses a name that is too long, and a folder that may not be looked into
    except (OSError, RuntimeError, ValueError) as fault:
        why = getattr(fault, "strerror", None) or str(fault)
        raise InputError([Problem(what, repr(text)[:80], "must name a file", why)]) from None
    return path


def writable(text: str) -> str:
    """Take out of a text what no TOML file may hold: control characters and halves of characters.

    Parameters:
        text: what was typed [-]

    Returns:
        the same text with blanks in their place [-]
    """
    return _LONE.sub("?", _CONTROL.sub(" ", text))


def _clear(folder: Path) -> None:
    """Take away the part files of writers that were killed long ago."""
    with contextlib.suppress(OSError):
        for entry in os.scandir(folder):
            if _PART_FILE.fullmatch(entry.name) and time.time() - entry.stat().st_mtime > OLD:
                with contextlib.suppress(OSError):
                    os.unlink(entry.path)


def _cannot(what: str, path: Path, fault: Exception, kind: str = "file") -> InputError:
    remedy = "check the folder, its permissions and the space left; what is typed stays where it is"
    return InputError([Problem(f"the {kind} {str(path)!r}"[:200], reason(fault), f"cannot {what}", remedy)])
