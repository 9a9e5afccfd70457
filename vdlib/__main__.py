"""The way in, ``python -m vdlib``: the workbooks as pages without code, in the browser of this computer."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path


def parser() -> argparse.ArgumentParser:
    """Return what reads the command line."""
    made = argparse.ArgumentParser(
        prog="python -m vdlib",
        description="Open the setup workbooks as pages without code. They are served on this computer alone, behind a "
        "token; nothing is fetched from the network. Stop with Ctrl-C.",
    )
    made.add_argument("--port", type=_port, default=0, metavar="NUMBER", help="port to use; a free one if left out")
    made.add_argument("--no-browser", action="store_true", help="print the link and open no browser")
    made.add_argument("--cars", type=Path, metavar="FOLDER", help="where saved cars are; workbooks/my-cars if left out")
    made.add_argument("--workbooks", type=Path, metavar="FOLDER", help="another folder of workbooks, such as a copy")
    made.add_argument(
        "--address",
        default="127.0.0.1",
        help="address to serve at; anything but this computer's own lets others in, and is warned of",
    )
    return made


def _port(text: str) -> int:
    number = int(text) if text.isdecimal() and len(text) < 6 else -1
    if not 0 <= number <= 65535:
        raise argparse.ArgumentTypeError(f"must be a whole number from 0 (any free one) to 65535, got {text}")
    return number


def main() -> None:
    """Serve the pages until stopped."""
    given = parser().parse_args()
    # a grammar of web addresses that jsonschema takes a second to build; no schema here has such an address to check
    sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]
    from .door.server import serve  # its libraries take a second: --help does not wait for them

    serve(given.port, given.address, not given.no_browser, given.cars, given.workbooks)


if __name__ == "__main__":
    main()
