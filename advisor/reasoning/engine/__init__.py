"""Facts through rules to a proof: fast engines of two makers, and the plain evaluator that says what the rules mean."""

from advisor.reasoning.engine.makers import Engine, make_engine, makers_here
from advisor.reasoning.engine.reference import ReferenceEngine

__all__ = ["Engine", "ReferenceEngine", "make_engine", "makers_here"]
