"""What there is to say of a snapshot: words and bare numbers, for every screen and text command. No cells."""
