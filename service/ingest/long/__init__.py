"""Files too long to be held: read part by part, each as the whole would be."""
