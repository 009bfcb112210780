"""What is true of a card: pure rules on facts; no clock, no database, no web."""
