"""What a person hands over becomes a case folder, and nothing outside it is ever written."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest

from boostproof.casefolder import unpack
from boostproof.casefolder.unpack import unpack_case
from boostproof.errors import InputError

CAR = b"format = 1\n"


def _given(*files: tuple[str, bytes]) -> list[tuple[str, io.BytesIO]]:
    return [(name, io.BytesIO(data)) for name, data in files]


def _zip(*files: tuple[str, bytes], pack: int = zipfile.ZIP_DEFLATED) -> list[tuple[str, io.BytesIO]]:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", pack) as archive:
        for name, data in files:
            archive.writestr(zipfile.ZipInfo(name), data, pack)
    return _given(("case.zip", out.getvalue()))


def _tree(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_files_without_their_folder_find_their_places(tmp_path: Path) -> None:
    folder = unpack_case(_given(("x/car.toml", CAR), ("x\\pulls.toml", b"p"), ("any/log.csv", b"l")), tmp_path)
    assert _tree(folder) == {"car.toml": CAR, "pulls.toml": b"p", "recordings/log.csv": b"l"}


def test_no_file_takes_the_place_of_another(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="Two of these files are called log"):
        unpack_case(_given(("car.toml", CAR), ("monday/log.csv", b"1"), ("friday/log.csv", b"2")), tmp_path)


@pytest.mark.parametrize("name", ["..", "x/..", ".hidden", "", "a\0b.csv", "x" * 300 + ".csv", "ö" * 130])
def test_a_name_that_is_none_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match="is no name of a file of a case"):
        unpack_case(_given(("car.toml", CAR), (name, b"1")), tmp_path)


@pytest.mark.parametrize("name", ["../out.csv", "a/../../out.csv", "/out.csv", "..\\out.csv", "C:\\out.csv", "C:out.csv"])
def test_nothing_is_unpacked_beside_the_folder(tmp_path: Path, name: str) -> None:
    place = tmp_path / "place"
    place.mkdir()
    with pytest.raises(InputError, match="leads out of its folder"):
        unpack_case(_zip(("car.toml", CAR), (name, b"1")), place)
    assert [p.name for p in tmp_path.iterdir()] == ["place"]


def test_a_link_in_a_zip_file_is_only_text(tmp_path: Path) -> None:
    link = zipfile.ZipInfo("recordings/log.csv")
    link.external_attr = 0o120777 << 16  # a symbolic link, as Unix packs it
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("car.toml", CAR)
        archive.writestr(link, "/etc/passwd")
    folder = unpack_case(_given(("case.zip", out.getvalue())), tmp_path)
    assert not (folder / "recordings/log.csv").is_symlink()
    assert (folder / "recordings/log.csv").read_bytes() == b"/etc/passwd"


def test_a_small_zip_file_that_unpacks_to_much_is_refused(tmp_path: Path) -> None:
    given = _zip(("car.toml", CAR), ("recordings/log.csv", bytes(2_000_000)))
    assert len(given[0][1].getvalue()) < 10_000
    with pytest.raises(InputError, match="unpacks to more than a case may hold"):
        unpack_case(given, tmp_path, largest=1_000_000)


def test_too_many_files_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(unpack, "MOST_FILES", 2)
    with pytest.raises(InputError, match="unpacks to more than a case may hold"):
        unpack_case(_zip(("car.toml", CAR), ("a", b""), ("b", b"")), tmp_path)


def test_the_outermost_case_of_a_zip_file_is_taken_whole(tmp_path: Path) -> None:
    given = _zip(("shop/car.toml", CAR), ("shop/old/car.toml", b"old"), ("__MACOSX/car.toml", b"x"), ("notes.txt", b"n"))
    assert _tree(unpack_case(given, tmp_path)) == {"car.toml": CAR, "old/car.toml": b"old"}
