"""Ingest: from what drivers hand over to rows fit for the store; one failing source never disturbs another."""
