"""The chores of watching one site, each with one job, each behind its own boundary of faults."""
