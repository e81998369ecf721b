"""What a person says of tools, pigments and pots -> what the studio has, and how many grams are left."""
