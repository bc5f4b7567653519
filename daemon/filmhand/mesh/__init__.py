"""The mesh: its table, and what it can hold."""
