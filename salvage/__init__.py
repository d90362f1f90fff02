"""
Salvage: from a donated circuit board to a sold piece that can prove where it came from.

The package is a journal of what happened to each board, and the answers that follow from it.
Command line, web page and Python API call the same operations, which live in ``salvage.work``.
"""

__version__ = "0.1.0"
