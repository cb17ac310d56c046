"""The engines: one meaning, a plain one and a fast one."""

from advisor.reasoning.engine.reference import ReferenceEngine
from advisor.reasoning.engine.reference import ReferenceEngine as Engine

__all__ = ["Engine", "ReferenceEngine"]
