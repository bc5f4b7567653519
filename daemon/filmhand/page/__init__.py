"""What people look at: the proof picture, the note beside refused art, the status page."""
