"""What people may ask: one handler a kind, typed and pure, over a small ledger that a store fulfils."""
