"""The verb ``timings``: what the log teaches, listed, decided and tried on the past."""

from tui.verbs.timings.verb import add

__all__ = ["add"]
