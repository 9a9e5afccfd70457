"""Pictures: pure functions of results, drawn with matplotlib's Figure and never with pyplot.

No text in a picture is read as a formula: names that people type may hold a dollar sign.
"""

from matplotlib import rcParams

rcParams["text.parse_math"] = False
