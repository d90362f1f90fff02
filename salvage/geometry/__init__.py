"""Region arithmetic: outlines, shapes, what is left of a board, what would overlap."""
