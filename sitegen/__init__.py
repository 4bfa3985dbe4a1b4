"""From a folder of text files to a review site in several languages: the public face.

`check`, `read`, `round_findings` and `build` do what the commands do. Each name is loaded when it is first asked for,
so that `import sitegen` and `sitegen --help` load no library. Names outside `__all__` may change at any time.
"""

TYPE_CHECKING = (
    False  # not from typing, which a build with nothing to do has no time to load; type checkers know the name
)
if TYPE_CHECKING:
    from sitegen.findings.found import RoundFindings
    from sitegen.findings.rounds import round_findings
    from sitegen.pipeline.build import Built, build, check, read
    from sitegen.problems import Problems
    from sitegen.records.publication import Publication

__all__ = ["Built", "Problems", "Publication", "RoundFindings", "build", "check", "read", "round_findings"]
__version__ = "0.1.0"

_MODULES = {
    "Built": "sitegen.pipeline.build",
    "Problems": "sitegen.problems",
    "Publication": "sitegen.records.publication",
    "RoundFindings": "sitegen.findings.found",
    "build": "sitegen.pipeline.build",
    "check": "sitegen.pipeline.build",
    "read": "sitegen.pipeline.build",
    "round_findings": "sitegen.findings.rounds",
}


def __getattr__(name: str) -> object:
    """A public name, loaded from its module. Raises AttributeError for any other."""
    if name not in _MODULES:
        raise AttributeError(f"module 'sitegen' has no attribute {name!r}")
    from importlib import import_module

    value: object = getattr(import_module(_MODULES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """What the module holds, with the public names that are not loaded yet."""
    return sorted({*globals(), *__all__})
