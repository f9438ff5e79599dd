"""Speed and memory against honest baselines. Run alone, after the other tests."""
