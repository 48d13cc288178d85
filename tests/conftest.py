"""What every test shares: golden files, and how many examples hypothesis draws."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

GOLDENS = Path(__file__).parent / "goldens"

# The same examples on every machine, and no failure because a machine was busy. `--hypothesis-profile search` looks
# for new examples.
_QUIET = [HealthCheck.too_slow]
settings.register_profile("ci", derandomize=True, deadline=None, suppress_health_check=_QUIET)
settings.register_profile("search", max_examples=2_000, deadline=None, suppress_health_check=_QUIET)
settings.load_profile("ci")

_USED = pytest.StashKey[set[Path]]()
_LEFT_OUT = pytest.StashKey[bool]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--update-goldens", action="store_true", help="write the golden files instead of comparing")


def pytest_configure(config: pytest.Config) -> None:
    config.stash[_USED] = set()
    config.stash[_LEFT_OUT] = False


def pytest_deselected(items: list[pytest.Item]) -> None:
    if items:
        items[0].config.stash[_LEFT_OUT] = True


@pytest.fixture(scope="session", autouse=True)
def nobodys_settings(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What whoever runs the tests has set for proclang counts in none of them, nor in their child processes."""
    with pytest.MonkeyPatch.context() as patch:
        for name in [name for name in os.environ if name.startswith("PROCLANG_")]:
            patch.delenv(name)
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.getbasetemp() / "no-settings"))
        patch.setenv("XDG_CACHE_HOME", os.devnull)  # no folder, so that no test is answered from an earlier one
        yield


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Callable[[str, str], None]:
    """`golden(name, text)`: the text is what `tests/goldens/<name>` holds; `--update-goldens` writes it there."""

    def compare(name: str, text: str) -> None:
        path = GOLDENS / name
        request.config.stash[_USED].add(path)
        if request.config.getoption("--update-goldens"):
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(text.encode())
            return
        assert path.is_file(), f"there is no golden file {name}; run pytest --update-goldens and read what it wrote"
        expected = path.read_bytes().decode()
        assert expected == text, f"{name} differs; if the new text is right, run pytest --update-goldens"

    return compare


def _whole_suite(session: pytest.Session) -> bool:
    """Every test ran, here, and passed: only then is a golden file that nobody asked for a left-over."""
    config = session.config
    if hasattr(config, "workerinput") or getattr(config.option, "numprocesses", None):
        return False  # each worker process saw a part of the tests
    tests = Path(__file__).parent
    everything = any(Path(config.invocation_params.dir, arg).resolve() in (tests, tests.parent) for arg in config.args)
    narrowed = any(getattr(config.option, name, None) for name in ("ignore", "ignore_glob", "collectonly"))
    return everything and not narrowed and not config.stash[_LEFT_OUT]


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    if exitstatus != pytest.ExitCode.OK or not _whole_suite(session):
        return
    unused = {p for p in GOLDENS.rglob("*") if p.is_file()} - session.config.stash[_USED]
    if unused:
        reporter = session.config.pluginmanager.get_plugin("terminalreporter")
        for path in sorted(unused):
            reporter.write_line(f"no test asks for golden file {path.relative_to(GOLDENS)}; delete it", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
