"""Truth: what a mail's words claim, found and held against the shop's files. Findings are `preflight`'s."""
