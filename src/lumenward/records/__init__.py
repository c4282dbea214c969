"""What is stored: the ledger, its projections, accounts and roles."""
