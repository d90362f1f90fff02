"""Measuring: a true-scale outline from a photo of a board that lies on a printed mat."""
