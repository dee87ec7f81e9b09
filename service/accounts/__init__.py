"""Who may do what: roles, passwords, second factors, and signing in."""
