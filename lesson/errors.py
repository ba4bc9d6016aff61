"""One exception family: everything a user can cause ends in one of these, with a one-line message."""

from __future__ import annotations


class LessonError(Exception):
    """Base of every error a user can cause. Its text is one line: what was met, where, what would do."""


class UsageError(LessonError):
    """The command line asks for something that cannot be done."""


class ReadError(LessonError):
    """A talk file cannot be read as a transcript."""


class DataError(LessonError):
    """A data file of the project (grammar, sounds, weights) or of the user (corrections) is broken."""


class WriteError(LessonError):
    """An output cannot be written where it was asked for."""
