"""A folder of photos, by their names or a list -> records, many at a time."""
