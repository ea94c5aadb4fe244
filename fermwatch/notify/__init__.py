"""What is to be told to whom, when, and in which words: pure, over alarms and what was told already."""
