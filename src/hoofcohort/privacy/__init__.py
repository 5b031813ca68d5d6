"""What leaves the association: pseudonyms in place of names, small numbers withheld, a check of what is released."""
