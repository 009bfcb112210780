"""Who is told of what is due, and when: rules, and what is sent of them."""
