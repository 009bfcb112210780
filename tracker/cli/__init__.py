"""The commands: thin; they read, ask the domain, and print."""
