"""What `filmhand doctor` tries: the computer, the station, each folder, each cluster."""
