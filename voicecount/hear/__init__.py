"""Utterance and grammar to what was heard: recognisers behind one port."""
