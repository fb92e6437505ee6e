"""Where we are and what was heard, to events and replies: turns, questions, wording."""
