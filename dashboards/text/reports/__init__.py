"""What is told of a time as a whole, in words: reports, journeys, statements to lenders."""
