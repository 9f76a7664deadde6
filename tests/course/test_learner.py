"""The learner's file: ids, variants, and what happens when it is damaged."""

import pytest

from rigkit.course import learner


def test_what_was_written_is_read(tmp_path):
    written = learner.write(tmp_path, "ada7")
    assert learner.read(tmp_path) == written
    assert written.variant == learner.variant_of("ada7")


def test_a_folder_without_a_file_has_no_learner(tmp_path):
    assert learner.read(tmp_path) is None


def test_variants_are_the_same_always_and_spread_over_1_to_99():
    # The first eight bytes of SHA-256 (FIPS 180-4) of the id as a number: "ada7" by `printf ada7 | sha256sum`.
    assert learner.variant_of("ada7") == 1 + int("dc0dfe7c17ddf3c9", 16) % 99
    variants = [learner.variant_of(f"learner{i}") for i in range(5000)]
    assert set(variants) == set(range(1, 100))
    assert max(map(variants.count, range(1, 100))) < 100  # 50 on average


@pytest.mark.parametrize("bad", ["", ".", "..", "-x", "../x", "a/b", "a b", "ü", "x" * 65, "a\n", None, 7, "a\0", '"'])
def test_an_id_that_is_not_one_is_refused(bad, tmp_path):
    with pytest.raises(ValueError, match="64 letters"):
        learner.write(tmp_path, bad)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("text", [
    "learner = ", "variant = 3", 'learner = "../x"\nvariant = 3', 'learner = "a"\nvariant = "x"', 'learner = "a"\nvariant = 100', 'learner = "a"\nvariant = -1',
    'learner = 3\nvariant = 3', "\x00",
])
def test_a_damaged_file_says_what_to_do(text, tmp_path):
    (tmp_path / learner.FILE).write_text(text)
    with pytest.raises(ValueError, match="rigkit lab"):
        learner.read(tmp_path)


def test_bytes_that_are_no_text_say_what_to_do(tmp_path):
    (tmp_path / learner.FILE).write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ValueError, match="rigkit lab"):
        learner.read(tmp_path)


def test_practice_ids_are_ids_and_differ():
    ids = {learner.practice_id() for _ in range(20)}
    assert len(ids) == 20 and all(learner.valid_id(one) for one in ids)
