"""The profile: one YAML file that says which film to make, and the ticket of a single job."""
