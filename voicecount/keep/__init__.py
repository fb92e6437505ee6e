"""Events to a synced journal and back."""
