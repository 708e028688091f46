import stat

from shopdiag.secret import read_or_create


def test_key_is_made_once_and_only_its_owner_reads_it(tmp_path):
    path = tmp_path / "deep" / "secret_key"
    key = read_or_create(path)
    assert len(key) >= 50
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert read_or_create(path) == key
    assert [p.name for p in path.parent.iterdir()] == ["secret_key"]


def test_two_installations_have_different_keys(tmp_path):
    assert read_or_create(tmp_path / "a") != read_or_create(tmp_path / "b")
