"""The rehearsal of a sheet: what is said, how it was heard, what is learned, what is kept, shown.

sayings, voices, noise ──▶ ears ──▶ respelled, pronounced ──▶ course ──▶ learned, store, page
"""
