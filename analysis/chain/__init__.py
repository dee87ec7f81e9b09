"""One link of the chain from frame to surface a file, each as plain functions."""
