"""What is known of objects: class, size, company they fly in, how bright they are."""

from passes.objects.classes import (
    CLASSES,
    counted_classes,
    is_station,
    object_class,
    station_key,
)
from passes.objects.groups import attached, trains
from passes.objects.launches import Launch, launch_of
from passes.objects.sizes import (
    Size,
    larger_than,
    read_size_file,
    read_sizes,
    size_in,
    size_of,
    sizes,
)
from passes.objects.standard import (
    StandardRow,
    StandardTable,
    basis_counts,
    rows_for,
)
from passes.objects.standard_text import (
    class_averages,
    read_standard_file,
    read_standard_table,
)

__all__ = [
    "CLASSES",
    "Launch",
    "Size",
    "StandardRow",
    "StandardTable",
    "attached",
    "basis_counts",
    "class_averages",
    "counted_classes",
    "is_station",
    "larger_than",
    "launch_of",
    "object_class",
    "read_size_file",
    "read_sizes",
    "read_standard_file",
    "read_standard_table",
    "rows_for",
    "size_in",
    "size_of",
    "sizes",
    "station_key",
    "trains",
]
