"""The finished bits spotted out, measured and judged, and what a refusal offers instead."""
