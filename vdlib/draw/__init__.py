"""Pictures: pure functions of results, drawn with matplotlib's Figure and never with pyplot."""
