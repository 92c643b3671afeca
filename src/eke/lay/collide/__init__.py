"""May it go there, and how much would it overlap? Kernels on flat arrays; everything in the way is a hazard."""
