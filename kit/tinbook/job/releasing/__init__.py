"""A released job as one archive that proves itself and can be made again to the byte."""
