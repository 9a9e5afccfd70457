"""Prints, at the end of a run, the share of the library's public functions that have an outside check."""

from __future__ import annotations

from checked import missing_and_share


def pytest_terminal_summary(terminalreporter):
    missing, share = missing_and_share()
    terminalreporter.write_line(
        f"public functions with a published, analytic or independent check: {100 * share:.0f} %"
        + (f"; without one: {', '.join(missing)}" if missing else "")
    )
