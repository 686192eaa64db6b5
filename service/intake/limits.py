"""What one file may hold (reliability: parsers are bounded)."""

MOST_BYTES = 10 * 1024 * 1024
MOST_ROWS = 50_000
MOST_COLUMNS = 200
MOST_CHARACTERS = 1_000
#: of a temperature raster; its pixels are limited by ``service.physics.raster.LARGEST_PIXELS``
MOST_RASTER_BYTES = 40 * 1024 * 1024
#: of a picture as it is sent; of one decoded, and of its longer side (the most that WebP can hold, RFC 9649 §2.5)
MOST_PICTURE_BYTES = 15 * 1024 * 1024
MOST_PICTURE_PIXELS = 40_000_000
LONGEST_PICTURE_SIDE = 16_383
#: a spoken note of a minute or two
MOST_VOICE_BYTES = 2 * 1024 * 1024
#: files of one form of pictures, and all they may weigh together
MOST_PICTURES_AT_ONCE = 60
MOST_PICTURES_BYTES = 160 * 1024 * 1024
#: of one scan of a signed sheet (an A4 page in colour at 300 dots an inch has about 3 MiB), and of
#: all that are sent at once
MOST_SCAN_BYTES = 15 * 1024 * 1024
MOST_SCANS_AT_ONCE = 40
MOST_SCANS_BYTES = 60 * 1024 * 1024
