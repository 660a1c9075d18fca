"""A commented job and stock file to start from. They plan as they are."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

FILES = ("job.yaml", "stock.yaml")


def starter_text(name: str) -> str:
    return resources.files("cutlist.job").joinpath("starter_files", name).read_text(encoding="utf-8")


def write_starter(folder: Path) -> tuple[Path, ...]:
    """Both files, into a folder that is made if need be.

    Raises FileExistsError, before anything is written, if either is there already; OSError if it cannot be written.
    """
    paths = tuple(folder / name for name in FILES)
    for path in paths:
        if path.exists() or path.is_symlink():
            raise FileExistsError(f"{path} is there already: nothing was written")
    folder.mkdir(parents=True, exist_ok=True)
    for path in paths:
        # "x": should it have appeared meanwhile, it is left alone
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(starter_text(path.name))
    return paths
