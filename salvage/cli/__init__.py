"""The command line: text in, one operation, text out."""
