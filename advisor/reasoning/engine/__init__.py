"""Facts through rules to a proof: fast engines of two makers, and the plain evaluator that says what the rules mean."""

from advisor.reasoning.engine.following import Following
from advisor.reasoning.engine.makers import Engine, make_engine, makers_here
from advisor.reasoning.engine.reference import ReferenceEngine
from advisor.reasoning.engine.standing_in import StandIns, trying

__all__ = ["Engine", "Following", "ReferenceEngine", "StandIns", "make_engine", "makers_here", "trying"]
