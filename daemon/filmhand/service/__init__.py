"""The service of a station: what `serve`, `once` and `status` do."""
