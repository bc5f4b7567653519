"""The trial sheet: one detail of the art at several settings."""
