"""What a column is: words of a header, its unit, its reference, its clock."""
