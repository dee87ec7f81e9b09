"""The web application: its routes and its errors as pages."""
