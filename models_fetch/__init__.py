"""Brings speech models that no package registry carries: ``python -m models_fetch``."""
