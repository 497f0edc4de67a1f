"""Other recordings in, pulse logs out: pure functions from bytes to rows with notes of what was guessed."""

from whorlpulse.importers.recording import NothingFound, Recording, Unreadable

__all__ = ["NothingFound", "Recording", "Unreadable"]
