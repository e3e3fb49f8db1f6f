"""One module a page, each with what it shows and what it takes."""
