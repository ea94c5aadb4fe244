"""What `fermwatch listen` does: hear, let a person name what was heard, and write it down."""
