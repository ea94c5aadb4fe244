"""The life of an alarm, after ISA-18.2 and IEC 62682: condition apart from attention, every timer a value."""
