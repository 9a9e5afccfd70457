"""What to change: a setup to try, those saved, the comparison with the car as it is, advice and the workshop page.

Each works on versions of a car, never on its file.
Why a change acts is explained by ``answers``; reading the car is the work of ``garage``.
"""

OPEN = (
    "advice",
    "allowed",
    "as_left",
    "candidate",
    "decision",
    "driven",
    "left_figures",
    "left_rows",
    "page",
    "page_wheels",
    "promised",
    "request",
    "saved",
    "tolerances",
    "whatif",
)
"""Modules that other rooms may use; the rest belong to this one."""
