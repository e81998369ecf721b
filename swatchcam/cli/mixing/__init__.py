"""What is typed at the mixing table -> what to do with leftovers."""
