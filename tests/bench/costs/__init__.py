"""Where time and memory go: the parts of ``tests/bench/bench.py``, each of which measures one thing and prints it."""
