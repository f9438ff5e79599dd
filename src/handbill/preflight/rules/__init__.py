"""One file for each rule; `RULE` in it is found by the registry."""
