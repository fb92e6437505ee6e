"""Device or file to frames to utterances: rates, channels, levels, voice activity."""
