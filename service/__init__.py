"""Everything that touches the world, and the wiring of the other two packages.

Files, stores, the register, notices, jobs, HTTP and the command line live here.
"""
