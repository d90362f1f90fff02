"""Barcodes: drawn for labels and cards, read from pictures and keyboard scanners."""
