"""The register as files, and the facts of one record looked at together."""
