"""What is taken along: figures with their numbers, as files."""
