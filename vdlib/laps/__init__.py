"""From logs and typed laps to a verdict: reading log files, laps, the course, and the evidence for a difference.

Speeds and times as driven; nothing here knows why a car does what it does.
What was promised beforehand comes from ``setup`` and ``answers``.
"""

OPEN = (
    "bootstrap",
    "calm",
    "clubday",
    "course",
    "doubts",
    "even",
    "evidence",
    "evidence_words",
    "incident",
    "laps",
    "logfile",
    "mounting",
    "notes",
    "plans",
    "scare_day",
    "slide_rate",
    "visit_day",
)
"""Modules that other rooms may use; the rest belong to this one."""
