"""Records and arrays to SVG marks and plotly figures."""
