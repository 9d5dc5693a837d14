"""The tune headers of O'Neill's Music of Ireland, as test data.

Source: F. O'Neill, O'Neill's Music of Ireland, Chicago 1903; ABC transcription as shipped in the
music21 package, folder corpus/oneills1850. Only numbers, titles, meters, keys and kinds are taken,
no notes. `headers.tsv` holds them, `headers.py` reads them, `extract.py` makes them again.
"""
