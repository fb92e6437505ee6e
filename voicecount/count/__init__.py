"""Events to ledger: cadence, packages, pieces, comparison with the sheet. Pure."""
