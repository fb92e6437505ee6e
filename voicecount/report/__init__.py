"""The record, to be read and handed on: pages, JSON, FHIR, CSV, and what many cases show."""
