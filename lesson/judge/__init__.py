"""What the words say of a position, and whether the board says so too."""
