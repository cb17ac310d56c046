"""Facts through rules to a proof: a fast engine, and the plain evaluator that says what the rules mean."""

from advisor.reasoning.engine.durable import DurableEngine as Engine
from advisor.reasoning.engine.reference import ReferenceEngine

__all__ = ["Engine", "ReferenceEngine"]
