"""Owns what the check of the knowledge says: one finding as a sentence."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Finding:
    """One thing the check found: `rule`, `subject`, what is wrong with it, and whether it is acknowledged."""

    rule: str
    subject: str
    said: str
    acknowledged: bool = False

    @property
    def text(self) -> str:
        """The finding as a sentence."""
        return f"{self.subject}: {self.said}"

    def __str__(self) -> str:
        return f"{self.rule} {self.text}{' (acknowledged)' if self.acknowledged else ''}"
