"""Plugins are found by name, imported late, and harmless when broken."""

import importlib
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from gpost.api import VERSION, Survey
from gpost.config.load import load_text
from gpost.errors import ConfigError
from gpost.steps.making import make_steps
from gpost.steps.manager import GROUP, StepRegistry, build_manager
from gpost.steps.recipe import make_recipe
from gpost.steps.words import steps_text
from tests.config_files import load_files

HEAD = '''
from __future__ import annotations
from collections.abc import Iterable
from gpost.api import Intention, Plan, Positive, Settings, Step, Survey, hookimpl

class DipSettings(Settings):
    """Settings."""
    depth_mm: Positive = 5.0
'''
STEP = '''
class {kind}(Step[DipSettings]):
    """Dips the foot."""
    name = "{name}"
    Settings = DipSettings
    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """Nothing."""
        return ()
'''
HOOK = '''
@hookimpl
def gpost_steps():
    """What this module offers."""
    return [{kinds}]
'''


def module(*names: str) -> str:
    """The source of a plugin that offers steps of these names."""
    kinds = [f"Kind{i}" for i in range(len(names))]
    steps = "".join(STEP.format(kind=kind, name=name) for kind, name in zip(kinds, names, strict=True))
    return HEAD + steps + HOOK.format(kinds=", ".join(kinds))


class Shelf:
    """A folder on the path that holds invented distributions with plugins."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def add(self, distribution: str, points: dict[str, str], **sources: str) -> None:
        """Install a distribution: its entry points (name -> module) and its modules' sources."""
        info = self.folder / f"{distribution}-1.0.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {distribution}\nVersion: 1.0\n")
        lines = [f"[{GROUP}]", *(f"{name} = {target}" for name, target in points.items())]
        (info / "entry_points.txt").write_text("\n".join(lines))
        for name, source in sources.items():
            (self.folder / f"{name}.py").write_text(source)
        importlib.invalidate_caches()


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Shelf]:
    """An empty shelf; what was imported from it is forgotten afterwards."""
    folder = tmp_path / "shelf"
    folder.mkdir()
    monkeypatch.syspath_prepend(str(folder))
    before = set(sys.modules)
    yield Shelf(folder)
    for name in set(sys.modules) - before:
        if str(getattr(sys.modules[name], "__file__", "")).startswith(str(tmp_path)):
            del sys.modules[name]


def broken(registry: StepRegistry, name: str) -> str:
    """Why the plugin or step of this name can't be used."""
    return next(one.reason for one in registry.broken if one.name == name)


def test_names_are_known_without_importing_anything(shelf: Shelf) -> None:
    """The names come from what is installed, not from running it."""
    shelf.add(
        "clayworks", {"dip-one": "shelf_one", "dip-two": "shelf_two"}, shelf_one="1 / 0", shelf_two="1 / 0"
    )
    registry = build_manager()
    assert {"dip-one", "dip-two"} <= set(registry.names)
    assert dict(registry.steps) == {}
    assert not {"shelf_one", "shelf_two"} & set(sys.modules)


def test_only_what_the_config_needs_is_imported(shelf: Shelf) -> None:
    """A config with one step does not import other plugins."""
    shelf.add(
        "clayworks",
        {"dip-one": "shelf_one", "dip-two": "shelf_two"},
        shelf_one=module("dip-one"),
        shelf_two=module("dip-two"),
    )
    registry = build_manager()
    assert list(registry.load(["dip-one"])) == ["dip-one"]
    assert registry.owners["dip-one"] == "clayworks"
    assert "shelf_two" not in sys.modules
    assert list(registry.load(["dip-two"])) == ["dip-one", "dip-two"]


def test_one_plugin_may_offer_several_steps_under_another_name(shelf: Shelf) -> None:
    """A step that is no entry point's name is looked for in every plugin."""
    shelf.add("clayworks", {"several": "shelf_one"}, shelf_one=module("dip-one", "dip-two"))
    registry = build_manager()
    assert {"dip-one", "dip-two"} <= set(registry.load(["dip-two"]))


def test_a_step_that_nobody_offers_is_left_out(shelf: Shelf) -> None:
    """Who asks for it says where the config names it; here it is just not there."""
    shelf.add("clayworks", {"dip-one": "shelf_one"}, shelf_one=module("dip-one"))
    steps = build_manager().load(["no-such-step"])
    assert "no-such-step" not in steps
    assert "dip-one" in steps


@pytest.mark.parametrize(
    ("source", "reason"),
    [
        (
            "import no_such_module_anywhere",
            "can't be loaded: ModuleNotFoundError: No module named 'no_such_module",
        ),
        ("def (", "can't be loaded: SyntaxError"),
        ("raise SystemExit('bye\\nbye')", r"can't be loaded: SystemExit: bye\\nbye"),
        ("x = 1", "has no function gpost_steps, marked @hookimpl"),
        (
            "from gpost.api import hookimpl\n@hookimpl\ndef gpost_stepz(): return []",
            "unknown hook 'gpost_stepz'",
        ),
        ("from gpost.api import hookimpl\n@hookimpl\ndef gpost_steps(x): return []", "Argument"),
        ("from gpost.api import hookimpl\n@hookimpl\ndef gpost_steps(): return 1 / 0", "ZeroDivisionError"),
        (
            "from gpost.api import hookimpl\n@hookimpl\ndef gpost_steps(): return 5",
            "its gpost_steps returns no list of step classes",
        ),
        (
            "from gpost.api import hookimpl\n@hookimpl\ndef gpost_steps(): return None",
            "has no function gpost_steps",
        ),
        (
            "from gpost.api import hookimpl\n@hookimpl\ndef gpost_steps(): return [5]",
            '"int" is no subclass of',
        ),
        (module("dip-one").replace("(Step[DipSettings])", ""), '"Kind0" is no subclass of gpost.api.Step'),
        (module("dip-one").replace('name = "dip-one"', ""), "Kind0 needs a `name` in small letters"),
        (module("dip-one").replace('"dip-one"', '"Dip one"'), "Kind0 needs a `name` in small letters"),
        (module("dip-one").replace("    Settings = DipSettings\n", ""), "Kind0 needs `Settings`, a subclass"),
        (
            module("dip-one").replace("Settings = DipSettings\n", "Settings = dict\n"),
            "Kind0 needs `Settings`",
        ),
        (module("dip-one").replace('"""Dips the foot."""', ""), "Kind0 needs a docstring"),
        (module("dip-one").replace("    name =", '    after = "fan"\n    name ='), "`after` to be a tuple"),
        (module("dip-one").replace("def plan", "def plot"), "Kind0 needs a method `plan`"),
    ],
)
def test_a_broken_plugin_is_harmless_until_a_config_uses_it(shelf: Shelf, source: str, reason: str) -> None:
    """What can't be imported, registered or used is kept with a sentence, and fails only who asks for it."""
    shelf.add(
        "clayworks",
        {"dip-one": "shelf_one", "dip-two": "shelf_two"},
        shelf_one=source,
        shelf_two=module("dip-two"),
    )
    registry = build_manager()
    assert "dip-two" in registry.load_all()
    assert reason.replace("\\\\", "\\") in broken(registry, "dip-one")
    assert broken(registry, "dip-one").isprintable()
    assert "dip-two" in registry.load(["dip-two"])
    with pytest.raises(ConfigError, match=r"step that is broken: dip-one \(from clayworks\): ") as caught:
        registry.load(["dip-one", "dip-two"])
    assert caught.value.exit_status == 2


def test_two_steps_of_one_name_are_an_error_that_names_both_owners(shelf: Shelf, tmp_path: Path) -> None:
    """Nobody can tell which of two was meant, so neither is used; all others are."""
    shelf.add("clayworks", {"dip-one": "shelf_one"}, shelf_one=module("dip-one"))
    shelf.add("mudworks", {"mud": "shelf_mud"}, shelf_mud=module("dip-one", "dip-two"))
    shelf.add("siltworks", {"silt": "shelf_silt"}, shelf_silt=module("dip-one"))
    registry = build_manager()
    steps = registry.load_all()
    assert "dip-one" not in steps
    assert {"dip-two", "fan"} <= steps.keys()
    assert {one.owner for one in registry.broken if one.name == "dip-one"} == {"clayworks", "mudworks", "siltworks"}
    assert "dip-two" in registry.load(["dip-two", "fan"])
    with pytest.raises(ConfigError, match=r"two steps are named dip-one: one from .*works, one from .*works"):
        registry.load(["dip-one"])


@pytest.mark.parametrize("entry", ["fan", "aaa"])
def test_a_second_stock_step_is_refused_by_name_and_the_stock_one_stays(shelf: Shelf, entry: str) -> None:
    """A package that offers a `fan` costs nothing to who uses the stock one, and `gpost steps` says why."""
    shelf.add("breezeworks", {entry: "shelf_fan"}, shelf_fan=module("fan", "dip-one"))
    registry = build_manager()
    assert "dip-one" in registry.load_all()
    assert registry.owners["fan"] == "gpost"
    assert registry.load(["fan"])["fan"].__module__ == "gpost_plugins.fan"
    assert "gpost's own has this name" in broken(registry, "fan")
    assert "fan (from breezeworks)" in " ".join(steps_text(registry).split())


@pytest.mark.parametrize("damage", ["[gpost.steps]\nnothing", "\udcff", "[gpost.steps\n= =\n"])
def test_a_damaged_package_costs_nothing_to_the_rest(shelf: Shelf, damage: str) -> None:
    """Entry points that can't be read, a description that is gone: the other packages' steps are there."""
    shelf.add("clayworks", {"dip-one": "shelf_one"}, shelf_one=module("dip-one"))
    bad = shelf.folder / "badworks-1.0.dist-info"
    bad.mkdir()
    (bad / "entry_points.txt").write_bytes(damage.encode("utf-8", "surrogateescape"))
    steps = build_manager().load_all()
    assert {"dip-one", "fan"} <= steps.keys()


def test_a_package_without_a_name_is_one_all_the_same(shelf: Shelf) -> None:
    """Its step can be used; its owner is unknown."""
    shelf.add("clayworks", {"dip-one": "shelf_one"}, shelf_one=module("dip-one"))
    for metadata in shelf.folder.glob("*.dist-info/METADATA"):
        metadata.unlink()
    registry = build_manager()
    assert "dip-one" in registry.load(["dip-one"])
    assert registry.owners["dip-one"] == "an unknown package"


def test_who_misses_a_step_is_told_what_could_not_be_loaded(shelf: Shelf) -> None:
    """The step may be in a plugin that is broken under another name."""
    shelf.add("clayworks", {"glazes": "shelf_one"}, shelf_one="1 / 0")
    with pytest.raises(ConfigError) as caught:
        make_recipe(load_text("c.yaml", "steps: [dip-one]"))
    assert str(caught.value).splitlines()[0] == (
        'c.yaml:1:9: steps[1]: there is no step "dip-one"; `gpost steps` lists the steps there are; one of your own '
        "needs its folder (--steps-from); 1 plugin could not be loaded: glazes (from clayworks): it can't be loaded: ZeroDivisionError: division by zero"
    )
    shelf.add("mudworks", {"slips": "shelf_two"}, shelf_two="import nowhere_to_be_found")
    with pytest.raises(ConfigError, match=r"2 plugins could not be loaded: glazes .from clayworks., slips .from mud"):
        make_recipe(load_text("c.yaml", "steps: [dip-one]"))


def test_one_module_under_two_names_is_no_clash(shelf: Shelf) -> None:
    """A plugin may give one module two entry points, for instance after a renaming."""
    shelf.add("clayworks", {"dip-one": "shelf_one", "dip-old": "shelf_one"}, shelf_one=module("dip-one"))
    assert "dip-one" in build_manager().load_all()


def test_a_folder_from_the_command_line_gives_its_files(tmp_path: Path) -> None:
    """Every *.py file of the folder is a plugin; its path is the owner; its stem is among the names."""
    (tmp_path / "mine.py").write_text(module("dip-mine"))
    (tmp_path / "_helper.py").write_text("1 / 0")
    (tmp_path / "notes.txt").write_text("1 / 0")
    registry = build_manager([tmp_path, tmp_path])
    assert "mine" in registry.names
    assert "dip-mine" in registry.load([])
    assert registry.owners["dip-mine"] == str(tmp_path / "mine.py")
    assert registry.broken == []


def test_a_folder_s_step_can_t_quietly_replace_an_installed_one(shelf: Shelf, tmp_path: Path) -> None:
    """A file with the name of an installed step is a clash, not an override."""
    shelf.add("clayworks", {"dip-one": "shelf_one"}, shelf_one=module("dip-one"))
    folder = tmp_path / "own"
    folder.mkdir()
    (folder / "other.py").write_text(module("dip-one"))
    with pytest.raises(ConfigError, match="two steps are named dip-one"):
        build_manager([folder]).load(["dip-one"])


def test_a_broken_file_leaves_nothing_behind(tmp_path: Path) -> None:
    """A file that fails is told by its stem and path, and is not kept as a module."""
    (tmp_path / "mine.py").write_text("1 / 0")
    before = set(sys.modules)
    registry = build_manager([tmp_path])
    registry.load([])
    [one] = registry.broken
    assert (
        str(one)
        == f"mine (from {tmp_path / 'mine.py'}): it can't be loaded: ZeroDivisionError: division by zero"
    )
    assert set(sys.modules) == before


@pytest.mark.parametrize("name", ["missing", "file.py"])
def test_a_folder_that_is_none_is_an_error(tmp_path: Path, name: str) -> None:
    """A mistyped folder is told at once."""
    (tmp_path / "file.py").write_text("")
    with pytest.raises(ConfigError, match="is no folder; name a folder that holds steps"):
        build_manager([tmp_path / name])


def test_registries_don_t_share_anything(shelf: Shelf, tmp_path: Path) -> None:
    """Nothing is global: what one registry loaded or found broken is unknown to the next."""
    (tmp_path / "mine.py").write_text(module("dip-mine"))
    assert "dip-mine" in build_manager([tmp_path]).load_all()
    assert "dip-mine" not in build_manager().load_all()


def test_a_plugin_s_settings_are_checked_as_the_stock_ones_are(tmp_path: Path) -> None:
    """Late annotations in a file from a folder resolve, and its settings become a step."""
    (tmp_path / "mine.py").write_text(module("dip-mine"))
    loaded = load_files({"piece.yaml": "steps: [dip-mine: {depth_mm: 7}]"})
    [step] = make_steps(loaded, build_manager([tmp_path]).load(loaded.step_names))
    assert step.name == "dip-mine"
    assert step.settings.depth_mm == 7


def test_a_step_of_a_later_contract_is_told_so(shelf: Shelf) -> None:
    """In a sentence that names both versions, when it is used; the others of its module work."""
    later = module("dip", "glaze").replace('name = "dip"', f'name = "dip"\n    needs_api = {VERSION + 1}')
    shelf.add("later", {"dip": "later_steps"}, later_steps=later)
    registry = build_manager()
    assert "glaze" in registry.load(["glaze"])
    wrong = f"it is made for version {VERSION + 1} of gpost.api, and this gpost has version {VERSION}; take a newer"
    assert broken(registry, "dip").startswith(wrong)
    with pytest.raises(ConfigError, match=f"broken: dip .*version {VERSION + 1} of gpost.api"):
        registry.load(["dip"])


def test_a_step_of_this_contract_is_taken(shelf: Shelf) -> None:
    """Of this version it needs nothing more; a version that is none is a fault of the step."""
    same = module("dip", "glaze").replace('name = "dip"', f'name = "dip"\n    needs_api = {VERSION}')
    same = same.replace('name = "glaze"', 'name = "glaze"\n    needs_api = "two"')
    shelf.add("now", {"dip": "now_steps"}, now_steps=same)
    registry = build_manager()
    assert "dip" in registry.load(["dip"])
    assert "needs `needs_api` to be a version of gpost.api" in broken(registry, "glaze")


def test_a_clock_that_goes_by_moves_is_of_the_fourth(shelf: Shelf) -> None:
    """`Survey.clock_at`: who can't do without it says so, and an older gpost leaves the step out."""
    timed = module("dip").replace('name = "dip"', 'name = "dip"\n    needs_api = 4')
    shelf.add("timed", {"dip": "timed_steps"}, timed_steps=timed)
    assert "dip" in build_manager().load(["dip"])
    assert hasattr(Survey, "clock_at")


def test_what_this_contract_lacks_may_be_of_a_later_one(shelf: Shelf) -> None:
    """A step that imports more than there is can't say its version; the sentence says what may be the matter."""
    shelf.add("later", {"dip": "dip_step"}, dip_step="from gpost.api import Melt\n")
    registry = build_manager()
    registry.load_all()
    assert "cannot import name 'Melt'" in broken(registry, "dip")
    assert f"It may be made for a later gpost.api, and this gpost has version {VERSION}" in broken(
        registry, "dip"
    )
