"""Where do the frames end and the filler of the last block begin?"""

from dataclasses import replace

from condyle.files.c3d_layout import Layout
from condyle.files.c3d_values import BLOCK


def tail(layout: Layout, length: int) -> bytes:
    """The last bytes of the file."""
    with layout.path.open("rb") as file:
        file.seek(layout.size - length)
        return file.read(length)


def only_filler(layout: Layout) -> bool:
    """Whether the last frame holds zeros only or the bytes behind it hold something: then it is not the last."""
    last = tail(layout, layout.left + layout.frame_bytes)
    return not any(last[: layout.frame_bytes]) or any(last[layout.frame_bytes :])


def count_by_size(layout: Layout) -> Layout:
    """As many frames as the file holds, less those in the last block that are zeros only: filler."""
    frames = (layout.size - layout.data_start) // layout.frame_bytes
    last = tail(
        layout,
        layout.size - layout.data_start - (frames - min(frames, BLOCK // layout.frame_bytes + 1)) * layout.frame_bytes,
    )
    for _ in range(BLOCK // layout.frame_bytes + 1):
        at = len(last) - (layout.size - layout.data_start - (frames - 1) * layout.frame_bytes)
        if at < 0 or any(last[at : at + layout.frame_bytes]):
            break
        frames -= 1
    return replace(layout, frames=frames)
