"""How fast the tool is: publications of any size, and the table of what they cost beside a floor."""
