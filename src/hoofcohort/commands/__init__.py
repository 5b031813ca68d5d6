"""One thin module per subcommand: arguments, files in, files out."""
