"""Rules: from a fermenter's situation to findings with evidence. Pure: no clock, no store, no memory of their own."""
