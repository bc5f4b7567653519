"""Where the art lies on the sheet, and what else is drawn there."""
