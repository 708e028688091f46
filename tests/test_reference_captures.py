"""The folder of reference captures is whole, and small."""

from tests.reference_captures import FOLDER, all_references


def test_every_file_has_its_line_and_its_truth():
    references = all_references()
    assert sorted(r.path.name for r in references.values()) == sorted(
        path.name for path in FOLDER.glob("*.gz")
    )
    assert len(references) == 24
    for name, reference in references.items():
        relative, cylinders = reference.truth["relative"], reference.setup.firing_order.sequence
        assert len(relative) == len(cylinders), name
        assert max(relative) == 1.0, name
        low = [i + 1 for i, figure in enumerate(relative) if figure < 0.80]
        assert reference.truth["low"] == low, name


def test_a_clone_stays_small():
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 2_400_000
