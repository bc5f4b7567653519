"""A job in a process of its own, so that no picture can harm the service.

The parent's side loads neither an array library nor a decoder.
"""
