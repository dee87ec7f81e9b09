"""Who may come in: users, the sessions they are signed in by, one-time links, failed attempts."""
