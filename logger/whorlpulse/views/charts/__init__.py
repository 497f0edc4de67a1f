"""Charts as Vega-Lite specifications: one a file, each a pure function from a report to a description of a picture."""
