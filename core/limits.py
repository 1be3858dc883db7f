"""Lengths and sizes checked before the database sees a value (SQLite would store them over-long)."""

NAME = 120
LINE = 200
NOTE = 4_000
ADDRESS = 160
EMAIL = 254
PHONE = 40
TAG = 24
FILE_BYTES = 20 * 1024 * 1024
IMAGE_PIXELS = 60_000_000
CLOSEOUT_BYTES = 1_000_000
POINTS_PER_LINE = 200
