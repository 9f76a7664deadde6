"""Where the shipped files lie."""

import pytest

from rigkit import files


def test_a_shipped_file_is_found():
    assert files.shared("data", "tally.toml").is_file() and files.shared("workbooks").is_dir()


def test_a_file_that_is_not_shipped_is_told():
    with pytest.raises(FileNotFoundError, match="data/nothing.toml is neither beside the package nor inside it; install rigkit again"):
        files.shared("data", "nothing.toml")
