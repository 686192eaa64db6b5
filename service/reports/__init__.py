"""Records to HTML, workbook and CSV bytes."""
