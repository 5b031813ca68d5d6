"""Between files, members and rounds: every row that came is found again, and every member gets a letter."""
