"""What one file may hold (reliability: parsers are bounded)."""

MOST_BYTES = 10 * 1024 * 1024
MOST_ROWS = 50_000
MOST_COLUMNS = 200
MOST_CHARACTERS = 1_000
#: of a temperature raster; its pixels are limited by ``service.physics.raster.LARGEST_PIXELS``
MOST_RASTER_BYTES = 40 * 1024 * 1024
