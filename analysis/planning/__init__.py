"""The same model looked at forwards: when to mount, where to hang, how to close, how to build."""
