"""From bytes to rows of text: what a file holds, with the lines on which it stands."""
