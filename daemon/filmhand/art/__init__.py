"""Any customer file in, coded grey out; and the repairs that line art and photographs need."""
