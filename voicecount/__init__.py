"""An offline, voice-driven, hands-free assistant for the surgical count."""

import os

__version__ = "0.1.0"

# The library that runs the models reports their use to its maker, and keeps an identity of the
# machine for that, unless this is set before it is loaded. Nothing leaves the room.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"
