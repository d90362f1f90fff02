"""The bench page: the workshop's operations on a screen, a phone and a touch of the finger."""
