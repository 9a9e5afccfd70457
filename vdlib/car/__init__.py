"""What is known of one car: its records, tyre, car file, the examples, the typical ranges and the shelf of own cars.

Everything here reads, checks, keeps or fills in numbers; nothing here computes how the car behaves.
Readings taken with tape and scales become a car in ``garage``.
"""

OPEN = (
    "carfile",
    "examples",
    "keys",
    "known",
    "records",
    "reference",
    "shelf",
    "store",
    "typical",
    "typical_table",
    "tyre",
    "writing",
)
"""Modules that other rooms may use; the rest belong to this one."""
