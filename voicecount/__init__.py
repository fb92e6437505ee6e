"""An offline, voice-driven, hands-free assistant for the surgical count."""

__version__ = "0.1.0"
