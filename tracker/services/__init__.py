"""One function for each thing a person does: where transactions begin and end."""
