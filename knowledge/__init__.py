"""Owns what is known: records, the graph and its questions, case files and the shop book; sits on engine."""

from knowledge.knowledge_base import Knowledge, load

__all__ = ["Knowledge", "load"]
