"""What is kept: the journal, and the rows that follow from it. The only place that knows SQL."""
