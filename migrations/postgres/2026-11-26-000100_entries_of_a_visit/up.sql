-- The entries of a visit are found by what ties them together, not by walking the book.
CREATE INDEX movements_by_visit ON movements (substr(ties, 2, 16)) WHERE ties IS NOT NULL;
