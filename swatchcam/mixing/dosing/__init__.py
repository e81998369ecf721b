"""A mix of any amounts -> what the tools that are there can put in, what that costs, and in which order it goes in."""
