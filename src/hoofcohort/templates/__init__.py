"""What is handed out before any data come in: templates, the dictionary's page, the tables as a machine reads them."""
