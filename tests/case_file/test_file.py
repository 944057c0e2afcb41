"""The file itself: what cannot be a case file is refused in words."""

import hashlib
import os

import pytest

from preloadmc import load_case
from preloadmc.errors import CaseError


def refused(path, words):
    with pytest.raises(CaseError, match=words) as caught:
        load_case(path)
    assert caught.value.exit_code == 2
    assert str(path) in str(caught.value)
    return caught.value


def holding(tmp_path, content):
    path = tmp_path / "joint.toml"
    path.write_bytes(content)
    return path


@pytest.mark.parametrize("content", [b"", b"# nothing but a comment\n"])
def test_an_empty_file(tmp_path, content):
    refused(holding(tmp_path, content), r"the file is empty; it needs at least \[fastener\]")


@pytest.mark.parametrize(
    "content",
    [
        b"torque = 90 N m\n",
        b"{ 'json': 1 }",
        b"[fastener\n",
        b"a = 1\na = 2\n",
        b"a = " + b"9" * 5000,
    ],
)
def test_not_toml(tmp_path, content):
    refused(holding(tmp_path, content), "1 problem\n  - file: not TOML: ")


@pytest.mark.parametrize(
    "content",
    [
        "a = " + "[" * 5000,
        "a = " + "[" * 17 + "]" * 17,
        "a = " + "{a = " * 17 + "1" + "}" * 17,
        "a" + ".a" * 20_000 + " = 1",
        "a" + " . 'a'" * 17 + " = 1",
        "[" + "a." * 16 + "a]",
        # Brackets within texts and comments close nothing.
        "a = [[[[[[[[[\"]]]]]]]]]\", '''\n]]]]''', # ]]]]\n[[[[[[[[]]]]]]]]]]]]]]]]]",
    ],
)
def test_deep_nesting_is_refused_before_it_costs(tmp_path, content):
    words = "file: tables, lists and keys nested at most 16 deep are needed"
    refused(holding(tmp_path, content.encode()), words)


def test_tables_of_several_headers_add_up_in_depth(tmp_path):
    headers = "".join("[" + ".".join("abcdefgh"[: n + 1]) + "]\n" for n in range(8))
    content = headers + "i.j.k.l.m.n.o.p.q = 1"
    refused(holding(tmp_path, content.encode()), "nested at most 16 deep")


def test_brackets_in_texts_are_not_nested(tmp_path, write_case):
    path = write_case({"title": "[" * 40 + ".a" * 25})
    assert load_case(path).title == "[" * 40 + ".a" * 25


@pytest.mark.parametrize("whole", ["0x" + "f" * 5000, str(2**63), str(-(2**63) - 1), "9" * 400])
def test_whole_numbers_have_64_bits(tmp_path, whole):
    words = r"file: whole numbers of at most 64 bits are needed \(given: cost\.per_joint = "
    error = refused(holding(tmp_path, f"[cost]\nper_joint = {whole}".encode()), words)
    assert len(str(error)) < 500


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("k" * 101, "a key of at most 100 characters is needed"),
        ('"a\\nb"', r"keys of printable characters are needed \(given: 'a\\nb'\)"),
        ('"\\u202Eb"', r"keys of printable characters are needed \(given: '\\u202eb'\)"),
    ],
)
def test_keys_are_short_and_printable(tmp_path, key, words):
    error = refused(holding(tmp_path, f"[load]\n{key} = 1".encode()), words)
    assert len(str(error)) < 500


def test_the_name_of_a_file_stands_in_its_reports(tmp_path, write_case):
    path = tmp_path / "two\nlines.toml"
    write_case().rename(path)
    refused(path, "a file with a name of printable characters is needed")


def test_not_text(tmp_path):
    refused(holding(tmp_path, b"\x89PNG\r\n"), "text in UTF-8 is needed; byte 0 is not")


def test_absent(tmp_path):
    refused(tmp_path / "none.toml", "cannot be read: No such file or directory")


def test_a_folder(tmp_path):
    refused(tmp_path, "a folder was given; a case file is needed")


def test_below_a_file(tmp_path):
    path = holding(tmp_path, b"a = 1")
    refused(path / "joint.toml", "cannot be read: Not a directory")


def test_more_than_a_page(tmp_path):
    refused(holding(tmp_path, b"#" * 1_000_001), "larger than 1,000,000 bytes: not a case file")


def test_a_gigabyte_is_not_read(tmp_path):
    path = tmp_path / "joint.toml"
    with path.open("wb") as file:
        os.truncate(file.fileno(), 10**9)
    refused(path, "larger than 1,000,000 bytes")


def test_an_endless_device():
    refused("/dev/zero", "cannot be read: it is no regular file")


def test_a_pipe_is_refused_and_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "joint.toml")
    refused(tmp_path / "joint.toml", "it is no regular file")


def test_a_name_that_is_no_text(tmp_path, write_case):
    path = tmp_path / os.fsdecode(b"joint\xff.toml")
    write_case().rename(path)
    refused(path, "a file with a name in UTF-8 is needed")


def test_the_tables_of_every_alternative_are_files_of_the_case(tmp_path, write_case):
    text = "joint,torque\n" + "".join(
        f"{joint},{torque} N·m\n" for joint in ("hard", "soft") for torque in (50, 51, 52, 50, 51)
    )
    (tmp_path / "rundowns.csv").write_text(text, encoding="utf-8")
    tool = {"rundowns": "rundowns.csv", "target": "50 N·m"}
    case = load_case(write_case({"tightening.tool": tool}))
    assert case.files == {"joint.toml": case.text, "rundowns.csv": text}
    change = [{"name": "tested tool", "tightening": {"tool": tool}}]
    case = load_case(write_case({"alternative": change}))
    assert case.files == {"joint.toml": case.text, "rundowns.csv": text}


def test_the_largest_file_that_is_read(tmp_path, write_case):
    content = write_case().read_bytes()
    path = holding(tmp_path, content + b"#" * (1_000_000 - len(content)))
    assert load_case(path).title == "Test joint"


def test_a_case_keeps_its_file(write_case):
    path = write_case({"title": None}, name="my joint.toml")
    case = load_case(str(path))
    content = path.read_bytes()
    assert (case.source, case.text) == (str(path), content.decode())
    assert case.sha256 == hashlib.sha256(content).hexdigest()
    assert (case.name, case.title) == ("as it is", "my joint")


def test_line_ends_of_another_system(tmp_path, write_case):
    content = write_case().read_bytes().replace(b"\n", b"\r\n")
    assert load_case(holding(tmp_path, content)).text.encode() == content
