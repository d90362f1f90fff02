"""Codes as pictures and back: what is drawn on paper, read from photos, and typed by scanners."""
