"""From the lines of a piece's sides to its named quantities, photos combined, each with its influences."""
