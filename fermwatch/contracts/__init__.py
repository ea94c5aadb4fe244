"""The promises between rooms: Protocols, and the plain values that they hand over."""
