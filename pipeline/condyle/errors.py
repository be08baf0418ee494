"""What ends a command: one plain sentence that says what was found, where, and what to do."""

from collections.abc import Iterable


class CondyleError(Exception):
    """Something the user can act on; its text is the whole message. ``status`` is the exit status of the command."""

    status = 1


class DataError(CondyleError):
    """A file or recording that cannot be trusted or read (exit status 1)."""


class UsageError(CondyleError):
    """A wrong command line or configuration, found before anything is written (exit status 2)."""

    status = 2


class ConfigurationErrors(UsageError):
    """Every mistake found in the configuration files, reported together."""

    def __init__(self, sentences: Iterable[str]) -> None:
        self.sentences = list(sentences)
        super().__init__("\n".join(self.sentences))
