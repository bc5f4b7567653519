"""The Internet Printing Protocol: messages, their words, and the way there (RFC 8010 and 8011)."""
