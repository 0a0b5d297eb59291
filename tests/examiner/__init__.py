"""An examiner that refracts a right eye through the pages alone, by the textbook or badly."""
