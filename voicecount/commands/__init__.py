"""What each command does, once its arguments are read."""
