"""An invented production."""
