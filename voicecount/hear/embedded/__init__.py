"""The default recogniser: one encoder, two judges, everything inside packages."""
