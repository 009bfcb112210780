"""What is spoken over HTTP: thin, it reads a request, calls a service and says what came of it."""
