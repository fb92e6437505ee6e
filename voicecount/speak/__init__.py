"""Replies to sound, played to its end."""
