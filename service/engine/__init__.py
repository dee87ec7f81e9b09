"""Where many works are judged: here, on threads, or by worker processes, on this machine or more.

`engines` says what an engine does and finds the one that is set; `clusters` is that of Dask. Both
call the same functions, and both come to the same to the bit.
"""
