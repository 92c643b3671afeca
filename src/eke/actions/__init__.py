"""One function for each thing a maker can do. It ties the rest together; command line and app are thin over it."""
