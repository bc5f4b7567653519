"""YAML to checked settings, every fault as a sentence with its place in the file."""
