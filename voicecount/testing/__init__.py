"""Fakes for every port, for tests of this project and of others."""
