"""How letters go out: mail, signed webhooks, addresses of the apprise library, the page itself."""
