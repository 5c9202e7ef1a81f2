"""From a photo to the straight lines of the piece on the sheet: the sheet found, the camera fitted, edges traced."""
