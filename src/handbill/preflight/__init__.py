"""Preflight: rules that look at a mail before it goes out. Findings are data; `report` words them."""
