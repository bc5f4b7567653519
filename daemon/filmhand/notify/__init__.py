"""Telling people: refusals, warnings and trouble by mail, web hook or a service's own message.

Nothing here may hold up the service: each target has a thread of its own that may hang.
"""
