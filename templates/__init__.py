"""What is printed, shown and handed to a newcomer as a first book."""
